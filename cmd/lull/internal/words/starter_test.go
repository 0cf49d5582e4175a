package words_test

import (
	"strings"
	"testing"

	"lull/analyze"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

func TestTheStartersAnswerCanBeSaidWhateverHappened(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*words.Report)
		want   []string
	}{
		{"limit reached", func(r *words.Report) { r.Map.Settings.StarterLimit = 1 }, []string{"The limit of 1 operations is reached: the car stops its engine no more."}},
		{"one log without km", func(r *words.Report) {
			r.Logs = r.Logs[1:]
			r.Logs[0].Result.Distance = analyze.Total{Absent: analyze.NoSignal{Role: decode.VehicleSpeed}}
		}, []string{
			"9 starter operations were seen: 7 restarts, 1 start by key and 1 further try.",
			"The counter read 12003 first and 12012 last, which agrees with the operations seen.",
			"Only if the control module is replaced: the new one must be given 12012, by the maker's procedure. A new starter begins at 0.",
			"Operations a km are not known: no signal has the role vehicle_speed.",
			"Of the 20000 that the signal map allows 7988 are left; how far that takes is not known: no signal has the role vehicle_speed.",
		}},
		{"nothing seen", func(r *words.Report) {
			for i := range r.Logs {
				r.Logs[i].Result.Starter = analyze.Starter{First: 5, Last: 5, Agrees: true}
				r.Logs[i].Result.Findings = nil
			}
		}, []string{
			"No starter operation was seen in 2 logs.",
			"how far that takes is not known: no starter operation was seen.",
		}},
		{"too few km for what is left", func(r *words.Report) { r.Logs[0].Result.Distance.Value = 4 },
			[]string{"are left; how far that takes is not known: the logs hold 56.5 km, and it takes 100 km of everyday driving: record 44 km more."}},
		{"enough", func(*words.Report) {}, []string{" are left, at this rate for "}},
		{"starts between the logs", func(r *words.Report) {
			r.Logs[0].Result.Starter.First, r.Logs[0].Result.Starter.Last = 12014, 12017
			r.Logs[0].Result.Findings = nil
		}, []string{"which agrees with the operations seen and 2 between the logs that were not recorded."}},
		{"disagrees", func(r *words.Report) { r.Logs[0].Result.Starter.First, r.Logs[0].Result.Starter.Last = 12012, 12014 },
			[]string{"The counter read 12003 first and 12014 last, which disagrees with the operations seen."}},
	} {
		r := sample.Starter()
		c.change(r)
		got := words.NewStarterReport(r).Answer()
		for _, want := range c.want {
			if !strings.Contains(got, want) {
				t.Errorf("%s: %q is not in %q", c.name, want, got)
			}
		}
	}
}
