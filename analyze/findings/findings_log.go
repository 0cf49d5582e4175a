package findings

import (
	"slices"
	"strconv"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
)

func (r *Finder) standstillFindings(list *Findings) {
	for i := range r.result.Standstills {
		r.StandstillFinding(&r.result.Standstills[i], list)
	}
}

// StandstillFinding adds a finding if nothing explains a standstill, or if that cannot be
// told.
func (r *Finder) StandstillFinding(s *analyze.Standstill, list *Findings) {
	names := evidence("standstill", s.N)
	if s.Unexplained {
		list.add(analyze.CodeUnexplained, analyze.Attention, s.Start.T, names, r.unexplained(s))
	}
	if s.Hidden > 0 {
		list.add(analyze.CodeCannotTell, analyze.Note, s.Start.T, names, analyze.HiddenStop{Start: s.Start.T, Length: s.Hidden})
	} else if len(s.CannotTell) > 0 {
		list.add(analyze.CodeCannotTell, analyze.Note, s.Start.T, names, analyze.DoubtedInhibits{Start: s.Start.T, Conditions: s.CannotTell, Why: r.whyDoubted(s.CannotTell)})
	}
}

// unexplained returns what was measured for every inhibit of a standstill, and what the car
// itself said.
func (r *Finder) unexplained(s *analyze.Standstill) analyze.UnexplainedStandstill {
	about := analyze.UnexplainedStandstill{
		Start: s.Start.T, Length: s.Until - s.Start.T, KeyOff: s.Until < s.End.T, Covered: s.Covered,
		NoInhibits: !r.M.NamesInhibits(),
	}
	for _, h := range s.Inhibits {
		for _, m := range h.Measured {
			signal := &r.M.Signals[m.Signal]
			held := analyze.HeldAgainst{Condition: r.M.Inhibits[h.Condition].Name, Against: m.Against, Signal: signal.Name, Unit: signal.Unit, Value: m.Value}
			if m.Value.Seen {
				held.Label = signal.LabelAt(m.Value.Value)
			}
			about.Measured = append(about.Measured, held)
		}
	}
	if signal := r.M.RoleSignal(decode.InhibitCode); signal != nil && len(s.Codes) == 0 && r.Has(decode.InhibitCode) {
		about.SilentCode = signal.Name
	}
	return about
}

// whyDoubted says why the inhibits, and the car's own code, cannot be told.
func (r *Finder) whyDoubted(names []string) analyze.NotSeen {
	var unknown []*decode.Condition
	for i := range r.M.Inhibits {
		if slices.Contains(names, r.M.Inhibits[i].Name) {
			unknown = append(unknown, &r.M.Inhibits[i])
		}
	}
	return r.WhyUnknown(unknown...)
}

func (r *Finder) logFindings(list *Findings) {
	out := r.result
	r.accountFindings(list)
	if period, known := r.voltagePeriod(); known && period > 21*bounds.Millisecond {
		var dipped []string
		for _, e := range r.Done {
			if v := e.Metric("voltage_min"); v.Known() {
				dipped = append(dipped, "episode "+strconv.Itoa(e.N))
			}
		}
		if len(dipped) == 0 {
			dipped = dippedStarts(out.Starts)
		}
		if len(dipped) > 0 {
			list.add(analyze.CodeDipUndersampled, analyze.Note, 0, dipped, analyze.SeldomVoltage{Period: period})
		}
	}
	if out.Info.Rejected > 0 {
		list.add(analyze.CodeLogDamaged, analyze.Note, 0, []string{}, analyze.LinesLost(out.Info.Rejected))
	}
	for i := range out.Info.Remarks {
		if m := &out.Info.Remarks[i]; m.Code == decode.RemarkPackedDamaged {
			list.add(analyze.CodeLogDamaged, analyze.Note, 0, []string{}, analyze.Remarked{Text: m.Text})
		}
	}
	for i, g := range out.Gaps {
		if i == decode.MaxPlaces {
			list.add(analyze.CodeGap, analyze.Note, g.Start, []string{}, analyze.FurtherGaps(len(out.Gaps)-i))
			break
		}
		r.GapFinding(g, list)
	}
}

// GapFinding adds a gap of the recording.
func (r *Finder) GapFinding(g analyze.Gap, list *Findings) {
	list.add(analyze.CodeGap, analyze.Note, g.Start, []string{}, g)
}

// accountFindings adds a counter of starter operations that was reset, or that did not step
// with the operations seen.
func (r *Finder) accountFindings(list *Findings) {
	s := &r.result.Starter
	if s.Absent != nil {
		return
	}
	for _, reset := range s.Resets {
		list.add(analyze.CodeCounterReset, analyze.Note, reset.Time, []string{}, analyze.CounterFell(reset))
	}
	if s.Agrees || len(s.Resets) > 0 {
		return
	}
	about := analyze.CounterDisagrees{From: s.First, To: s.Last, Step: s.Step, Seen: s.Operations()}
	if about.Step > float64(about.Seen) {
		r.whereStartsHide(&about)
	}
	list.add(analyze.CodeCounterDisagrees, analyze.Attention, 0, []string{}, about)
}

// whereStartsHide finds where starts may lie that the counter counted and the log does not
// show.
func (r *Finder) whereStartsHide(about *analyze.CounterDisagrees) {
	about.Gaps, about.Lines = len(r.result.Gaps), r.result.Info.Rejected
	for _, g := range r.result.Gaps {
		about.GapsLength += g.End - g.Start
	}
	if n := r.Starter.Pauses.Count; n > about.Gaps {
		about.Pauses = n
	} else if !r.Has(decode.StarterCommand) {
		about.Silences = len(r.result.Silences)
	}
}

// dippedStarts names the starts that have a lowest voltage.
func dippedStarts(starts []analyze.Start) []string {
	var names []string
	for _, s := range starts {
		if v := s.Metric("voltage_min"); v.Known() {
			names = append(names, "start "+strconv.Itoa(s.N))
		}
	}
	return names
}

// voltagePeriod is the period of the battery voltage's frame, as learned.
func (r *Finder) voltagePeriod() (int64, bool) {
	if !r.Has(decode.BatteryVoltage) {
		return 0, false
	}
	return r.Streams.Period(r.M.Role[decode.BatteryVoltage])
}
