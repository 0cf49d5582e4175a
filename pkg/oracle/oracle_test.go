package oracle

import (
	"fmt"
	"strings"
	"testing"
)

// watched is a testing.TB that records how the test ended.
type watched struct {
	testing.TB
	how string
}

func (w *watched) Helper() {}
func (w *watched) Fatalf(format string, args ...any) {
	w.how = "failed: " + fmt.Sprintf(format, args...)
	panic(w)
}
func (w *watched) Skipf(format string, args ...any) {
	w.how = "skipped: " + fmt.Sprintf(format, args...)
	panic(w)
}

func TestWhatIsMissingSkipsATestAndFailsItWhereCIIsSet(t *testing.T) {
	asks := map[string]func(testing.TB){
		"Python's module no_such_module": func(t testing.TB) { Python(t, "no_such_module", "python3-none", "", 0, new(int)) },
		"no-such-program":                func(t testing.TB) { Program(t, "no-such-program", "none") },
	}
	for what, ask := range asks {
		for ci, want := range map[string]string{"": "skipped: SKIPPED: " + what + " is not installed", "true": "failed: " + what + " is not installed"} {
			t.Setenv("CI", ci)
			w := &watched{}
			func() {
				defer func() { recover() }()
				ask(w)
			}()
			if !strings.HasPrefix(w.how, want) {
				t.Errorf("CI=%q: %s; want %s", ci, w.how, want)
			}
		}
	}
}
