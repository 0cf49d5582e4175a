package measuring

import (
	"context"
	"path/filepath"
	"slices"
	"strings"

	"lull/analyze/compare"
	"lull/cmd/lull/internal/words"
	"lull/pkg/source"
)

// How says how to compare two sides.
type How struct {
	By          compare.By
	TwoVehicles bool // compare even if the sides are of two vehicles
}

// Compare measures the logs of two sides and compares them. failed reports whether some log
// could not be read.
func Compare(ctx context.Context, before, after *Logs, how How) (c *words.CompareReport, a *words.Report, failed bool, err error) {
	TellApart(before, after)
	b, failedBefore, err := before.Report(ctx, true)
	if err != nil {
		return nil, nil, true, err
	}
	a, failedAfter, err := after.Report(ctx, true)
	if err != nil {
		return nil, nil, true, err
	}
	if c, err = Compared(b, a, how); err == nil && c.Empty() {
		err = nothingToCompare(b, a)
	}
	return c, a, failedBefore || failedAfter, err
}

// TellApart renames the logs of two sides so that no two have the same name.
func TellApart(before, after *Logs) {
	inputs := slices.Concat(before.Inputs, after.Inputs)
	source.NameAll(inputs)
	n := copy(before.Inputs, inputs)
	copy(after.Inputs, inputs[n:])
}

// nothingToCompare says which side has neither an episode nor a standstill in which the
// engine could have been stopped.
func nothingToCompare(before, after *words.Report) error {
	var sides, names []string
	for _, s := range []struct {
		name string
		*words.Report
	}{{"before", before}, {"after", after}} {
		found, unusable := 0, (*words.Log)(nil)
		for i := range s.Logs {
			if !s.Logs[i].Result.Usable() {
				unusable = &s.Logs[i]
				continue
			}
			found += s.Logs[i].Result.Summary.Episodes + s.Logs[i].Result.Summary.Opportunities
		}
		if found > 0 {
			continue
		}
		if unusable != nil {
			return &words.Failure{Where: unusable.Name, What: "cannot be used: " + words.Visible(words.DoubtText(&unusable.Result.Trust.Doubts[0])),
				Hint: "mend the signal map or record again, and compare then"}
		}
		sides = append(sides, s.name)
		for i := range s.Logs {
			names = append(names, s.Logs[i].Name)
		}
	}
	if len(sides) == 0 {
		return &words.Failure{What: "nothing that was measured is there on both sides", Hint: "lull episodes and lull standstills show what each has"}
	}
	return &words.Failure{Where: strings.Join(names, ", "), What: "no episode and no standstill in which the engine could have been stopped, on the side " + strings.Join(sides, " and on the side "),
		Hint: "drive so that the engine stops, and record again"}
}

// Compared compares two measured sides. For two vehicles it returns a *TwoVehicles error,
// unless how asks for the comparison.
func Compared(before, after *words.Report, how How) (*words.CompareReport, error) {
	if before.Map.SHA256 == after.Map.SHA256 {
		after.Map = before.Map
	}
	sideBefore, sideAfter := words.SideOf(before), words.SideOf(after)
	if name, other, twice := compare.SameLog(sideBefore, sideAfter); twice {
		what := "is on both sides"
		if other != name {
			what = "is the same drive as " + other + ", which is on the other side"
		}
		return nil, &words.Failure{Where: name, What: what, Hint: "a log compared with itself tells nothing; leave it out on one side"}
	}
	if v := compare.VehiclesOf(sideBefore, sideAfter); v.Two() && !how.TwoVehicles {
		return nil, &TwoVehicles{words.TwoVehicles(v)}
	}
	return &words.CompareReport{Version: after.Version, Before: before.Map, After: after.Map, Comparison: compare.New(sideBefore, sideAfter, how.By)}, nil
}

// TwoVehicles is the refusal to compare two vehicles.
type TwoVehicles struct{ *words.Failure }

func (e *TwoVehicles) Unwrap() error { return e.Failure }

// TellNamedTwice reports arguments that name the same file again.
func (l *Logs) TellNamedTwice() {
	seen := map[string]bool{}
	for _, arg := range l.Args {
		path := filepath.Clean(arg)
		if whole, err := filepath.Abs(arg); err == nil && arg != source.Stdin {
			path = whole
		}
		if seen[path] {
			l.Remark(arg, "given twice; it is counted once")
		}
		seen[path] = true
	}
}
