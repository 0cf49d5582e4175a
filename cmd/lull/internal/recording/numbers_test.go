//go:build unix

package recording

import (
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lull/analyze/scenario"
	"lull/cmd/lull/internal/sample/driven"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/live"
)

// newsOnly is shown a recording and keeps what was told of the drive.
type newsOnly struct{ list []words.News }

func (k *newsOnly) Tell(n words.News)                      { k.list = append(k.list, n) }
func (k *newsOnly) Look(time.Time, func() words.LiveState) {}
func (k *newsOnly) Close(words.LiveState, bool)            {}

var numbered = regexp.MustCompile(`^(episode \d+|standstill) at [0-9.]+ s`)

// Each line says whether it is of an episode or of a standstill, which are told in turn;
// numbers of episodes and times are those of the result in the end.
func TestWhatIsToldHasTheNumbersOfTheResult(t *testing.T) {
	for _, d := range scenario.Drives() {
		m, d := driven.Drive(t, d.Name)
		screen, out, _ := still()
		r := newRecorder(Options{Quiet: true, Screen: screen}, m, "drive.log", discard{})
		told := &newsOnly{}
		r.Show(told)
		lot := live.Lot{}
		d.Play(func(f *decode.Frame) {
			if lot.Frames = append(lot.Frames, *f); len(lot.Frames) == 200 {
				r.take(&lot)
				lot = live.Lot{}
			}
		})
		r.take(&lot)
		if err := r.finish(); err != nil {
			t.Fatal(err)
		}
		var got, want []string
		lines := strings.Split(out.String(), "\n")
		for _, kind := range []words.NewsKind{words.NewsEpisode, words.NewsStandstill} {
			shown := 0 // lines of the terminal, before its summary, which begin so
			for _, n := range told.list {
				if n.Kind == words.NewsAttention || n.Kind == words.NewsNote {
					continue // a finding refers to what it is about in the same way
				}
				head := numbered.FindString(n.Line())
				if n.Kind == kind {
					got = append(got, head)
				}
				if (head != "") != (n.Kind == words.NewsEpisode || n.Kind == words.NewsStandstill) || head != "" && !strings.HasPrefix(head, string(n.Kind)+" ") {
					t.Errorf("%s: a line of the kind %s: %s", d.Name, n.Kind, n.Line())
				}
			}
			for _, line := range lines {
				if head := numbered.FindString(line); strings.HasPrefix(head, string(kind)+" ") {
					shown++
				}
			}
			of := 0
			for _, n := range told.list {
				if n.Kind == kind {
					of++
				}
			}
			if shown != of {
				t.Errorf("%s: %d of %d lines of the kind %s on the terminal", d.Name, shown, of, kind)
			}
		}
		res := r.report.Logs[0].Result
		for i := range res.Episodes {
			want = append(want, fmt.Sprintf("episode %d at %s s", res.Episodes[i].N, words.Moment(res.Episodes[i].Stop.Instant)))
		}
		for i := range res.Standstills {
			want = append(want, fmt.Sprintf("standstill at %s s", words.Moment(res.Standstills[i].Start)))
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-result +told):\n%s", d.Name, diff)
		}
	}
}
