package words_test

import (
	"strings"
	"testing"

	"lull/cmd/lull/internal/words"
	"lull/decode"
)

func TestWhatSteersATerminalIsWrittenOut(t *testing.T) {
	for in, want := range map[string]string{
		"plain":               "plain",
		"Kühlmittel °C":       "Kühlmittel °C",
		"\x1b[31mred":         `\x1b[31mred`,
		"a\nb\tc\rd":          `a\nb\tc\rd`,
		"\x00\x7f\u0085":      `\x00\x7f\x85`,
		"gear\u202ekrap":      `gear\u202ekrap`,
		"a\u200bb\u2066c":     `a\u200bb\u2066c`,
		"line\u2028paragraph": `line\u2028paragraph`,
		"tag\U000e0041":       `tag\U000e0041`,
		"\xff\xfe":            `\xff\xfe`,
		"\ufffd stays itself": "\ufffd stays itself",
	} {
		if got := words.Visible(in); got != want {
			t.Errorf("Visible(%q) = %q, want %q", in, got, want)
		}
	}
	if got := words.VisibleBlock("a\tb\nc\x1b"); got != "a\tb\nc\\x1b" {
		t.Errorf("VisibleBlock: %q", got)
	}
}

// The time between two wide instants may reach below 0 as a difference. Text says 0, as
// the one follows the other; the document keeps the difference. How long after its
// standstill an engine was stopped can be less than 0: it was stopped while rolling.
func TestInterfacesOfGarbageAreNotAllNamed(t *testing.T) {
	names := strings.Split("can0,can1,c2,c3,c4,c5,c6,c7,c8,c9", ",")
	for n, want := range map[int]string{0: "none", 1: "can0", 2: "can0, can1", 8: "can0, can1, c2, c3, c4, c5, c6, c7", 9: "can0, can1, c2, c3, c4, c5, c6, c7 and 1 more",
		10: "can0, can1, c2, c3, c4, c5, c6, c7 and 2 more"} {
		if got := words.Interfaces(&decode.Info{Interfaces: names[:n]}); got != want {
			t.Errorf("%d: %q, want %q", n, got, want)
		}
	}
}

func TestSharesNeverClaimMoreThanTheyAre(t *testing.T) {
	for share, want := range map[float64]string{0: "0 %", 0.001: "<1 %", 0.5: "50 %", 0.994: ">99 %", 1: "100 %", 0.014: "1 %"} {
		if got := words.Percent(share); got != want {
			t.Errorf("%v: %s, want %s", share, got, want)
		}
	}
}
