package findings

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/units"
)

func (r *Finder) standstillFindings(list *Findings) {
	for i := range r.result.Standstills {
		r.StandstillFinding(&r.result.Standstills[i], list)
	}
}

func (r *Finder) StandstillFinding(s *analyze.Standstill, list *Findings) {
	where, names := evidence("standstill", s.N)
	if s.Unexplained {
		reason := "no mapped inhibit explains it"
		if len(r.M.Inhibits) == 0 && r.M.Role[decode.InhibitCode] < 0 {
			reason = "the map names no inhibits"
		}
		then := ""
		if s.Until < s.End.T {
			then = ", until the ignition was switched off"
		}
		list.add(analyze.CodeUnexplained, analyze.Attention, s.Start.T, names, r.unexplained(s), "%s (%.1f s from %.1f s on%s): the engine was not stopped, and %s%s",
			where, bounds.Seconds(s.Until-s.Start.T), bounds.Seconds(s.Start.T), then, reason, r.measuredText(s))
	}
	if s.Hidden > 0 {
		list.add(analyze.CodeCannotTell, analyze.Note, s.Start.T, names, analyze.HiddenStop{Length: s.Hidden}, "%s: cannot tell whether the engine was stopped: it was not seen for %s of this standstill", where, units.Length(s.Hidden))
	} else if len(s.CannotTell) > 0 {
		list.add(analyze.CodeCannotTell, analyze.Note, s.Start.T, names, analyze.DoubtedInhibits{Conditions: s.CannotTell, Why: r.whyDoubted(s.CannotTell)}, "%s: cannot tell whether %s kept the engine running: %s", where, quoted(s.CannotTell), measure.WhyUnseen(r.whyDoubted(s.CannotTell)))
	}
}

// unexplained gathers what was measured for every inhibit of a standstill, and what
// the car itself said.
func (r *Finder) unexplained(s *analyze.Standstill) analyze.UnexplainedStandstill {
	about := analyze.UnexplainedStandstill{
		Start: s.Start.T, Length: s.Until - s.Start.T, KeyOff: s.Until < s.End.T, Covered: s.Covered,
		NoInhibits: len(r.M.Inhibits) == 0 && r.M.Role[decode.InhibitCode] < 0,
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

// measuredText lists what was measured for every inhibit of a standstill, and what
// the car itself said.
func (r *Finder) measuredText(s *analyze.Standstill) string {
	var parts []string
	for _, h := range s.Inhibits {
		name := r.M.Inhibits[h.Condition].Name
		for _, m := range h.Measured {
			signal := &r.M.Signals[m.Signal]
			value := "not seen"
			if m.Value.Seen {
				value = signal.TextOf(m.Value.Value)
			}
			parts = append(parts, fmt.Sprintf("%s %s (%s: %s)", signal.Name, value, name, m.Against))
		}
	}
	text := ""
	if len(parts) > 0 {
		text = "; measured: " + strings.Join(parts, ", ")
	}
	if s.Covered > 0 {
		text += fmt.Sprintf("; inhibits were true for only %.0f %% of it", max(1, s.Covered*100))
	}
	if signal := r.M.RoleSignal(decode.InhibitCode); signal != nil && len(s.Codes) == 0 && r.Has(decode.InhibitCode) {
		text += "; the car's own code (" + signal.Name + ") named nothing"
	}
	return text
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

func quoted(names []string) string {
	texts := make([]string, len(names))
	for i, name := range names {
		texts[i] = strconv.Quote(name)
	}
	return spoken(texts, "or")
}

func (r *Finder) logFindings(list *Findings) {
	out := r.result
	r.accountFindings(list)
	if period, known := r.voltagePeriod(); known && period > 21*bounds.Millisecond {
		var dipped []string
		for _, e := range r.Done {
			if v := e.Metric("voltage_min"); v.Key != "" && v.Absent == "" {
				dipped = append(dipped, "episode "+strconv.Itoa(e.N))
			}
		}
		if len(dipped) == 0 {
			dipped = dippedStarts(out.Starts)
		}
		if len(dipped) > 0 {
			list.add(analyze.CodeDipUndersampled, analyze.Note, 0, dipped, analyze.SeldomVoltage{Period: period}, "the battery voltage comes only every %.0f ms: the true minimum may be lower than voltage_min says", bounds.Seconds(period)*1000)
		}
	}
	if out.Info.Rejected > 0 {
		list.add(analyze.CodeLogDamaged, analyze.Note, 0, []string{}, analyze.LinesLost(out.Info.Rejected), "%s of the log could not be read and %s left out", decode.Counted(out.Info.Rejected, "line", "lines"),
			decode.Pick(int(min(out.Info.Rejected, 2)), "was", "were"))
	}
	for i := range out.Info.Remarks {
		if m := &out.Info.Remarks[i]; m.Code == decode.RemarkPackedDamaged {
			list.add(analyze.CodeLogDamaged, analyze.Note, 0, []string{}, analyze.Remarked{Text: m.Text}, "%s", m.Text)
		}
	}
	for i, g := range out.Gaps {
		if i == decode.MaxPlaces {
			list.add(analyze.CodeGap, analyze.Note, g.Start, []string{}, analyze.FurtherGaps(len(out.Gaps)-i), "%d further gaps", len(out.Gaps)-i)
			break
		}
		r.GapFinding(g, list)
	}
}

func (r *Finder) GapFinding(g analyze.Gap, list *Findings) {
	list.add(analyze.CodeGap, analyze.Note, g.Start, []string{}, g, "the recording has a gap of %.2f s at %.2f s", bounds.Seconds(g.End-g.Start), bounds.Seconds(g.Start))
}

// accountFindings tells of a counter of starter operations that was reset, or that
// did not step with the operations seen.
func (r *Finder) accountFindings(list *Findings) {
	s := &r.result.Starter
	if s.Absent != "" {
		return
	}
	for _, reset := range s.Resets {
		list.add(analyze.CodeCounterReset, analyze.Note, reset.Time, []string{}, analyze.CounterFell(reset), "the starter-operation counter fell from %v to %v at %.1f s: starter or module was replaced or reset",
			reset.From, reset.To, bounds.Seconds(reset.Time))
	}
	if s.Agrees || len(s.Resets) > 0 {
		return
	}
	seen := s.Operations()
	about := analyze.CounterDisagrees{From: s.First, To: s.Last, Step: s.Step, Seen: seen}
	if s.Step > float64(seen) {
		r.whereStartsHide(&about)
	}
	if s.Step == 0 {
		list.add(analyze.CodeCounterDisagrees, analyze.Attention, 0, []string{}, about, "the starter-operation counter stood still at %v, but %s seen in all",
			s.Last, decode.Counted(int64(seen), "operation was", "operations were"))
		return
	}
	list.add(analyze.CodeCounterDisagrees, analyze.Attention, 0, []string{}, about, "the starter-operation counter stepped by %v from %v to %v, but %s seen in all%s",
		s.Step, s.First, s.Last, decode.Counted(int64(seen), "operation was", "operations were"), hiddenText(&about))
}

// whereStartsHide finds where starts may lie that the counter has and the log does
// not show.
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

func hiddenText(c *analyze.CounterDisagrees) string {
	var places []string
	if c.Gaps > 0 {
		places = append(places, fmt.Sprintf("%s of the recording, %.2f s in all", decode.Counted(int64(c.Gaps), "gap", "gaps"), bounds.Seconds(c.GapsLength)))
	}
	if c.Pauses > 0 {
		places = append(places, decode.Counted(int64(c.Pauses), "time", "times")+" in which "+decode.StarterCommand.String()+" was not seen")
	}
	if c.Silences > 0 {
		places = append(places, decode.Counted(int64(c.Silences), "silence", "silences")+" of modules")
	}
	if c.Lines > 0 {
		places = append(places, decode.Counted(c.Lines, "line", "lines")+" that could not be read")
	}
	if len(places) == 0 {
		return ""
	}
	return "; starts may be hidden in " + spoken(places, "and")
}

// dippedStarts names the starts that have a lowest voltage.
func dippedStarts(starts []analyze.Start) []string {
	var names []string
	for _, s := range starts {
		for _, v := range s.Metrics {
			if v.Key == "voltage_min" && v.Absent == "" {
				names = append(names, "start "+strconv.Itoa(s.N))
			}
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
