package words

import (
	"fmt"
	"slices"
	"strings"

	"lull/analyze"
	"lull/decode"
)

// Tried says what the drives tried and what not, so that a technician knows
// what to drive next; nothing if the map has no conditions.
func (r *Report) Tried() []string {
	if len(r.measuredLogs()) == 0 {
		return nil
	}
	x := r.tried()
	var lines []string
	add := func(text string) {
		if text != "" {
			lines = append(lines, text)
		}
	}
	add(triedText("asked for a restart: ", r.Map.Requests, x.Requests))
	codes := r.codesNamed()
	if byMap := func(t analyze.Tried) bool { return t.Caused > 0 }; len(codes.names) == 0 || slices.ContainsFunc(x.Inhibits, byMap) {
		add(triedText("kept the engine running: ", r.Map.Inhibits, x.Inhibits))
	}
	if len(codes.names) > 0 {
		add("kept the engine running by the car's own code: " + joined(codes.names, ", ", func(name string) string {
			return name + " " + Times(codes.counts[name])
		}))
	}
	if x.ChangesOfMind > 0 {
		add("asked for a restart before the engine had stopped turning: " + Times(x.ChangesOfMind))
	}
	add(r.rangeText(x.Signals))
	add(r.untriedText(x))
	return lines
}

// tried is what all measured logs together tried.
func (r *Report) tried() analyze.Exercised {
	total := analyze.Exercised{
		Requests: make([]analyze.Tried, len(r.Map.Requests)),
		Inhibits: make([]analyze.Tried, len(r.Map.Inhibits)),
	}
	for _, l := range r.measuredLogs() {
		x := &l.Result.Exercised
		total.ChangesOfMind += x.ChangesOfMind
		for k := range total.Requests {
			total.Requests[k] = sum(total.Requests[k], At(x.Requests, k))
		}
		for k := range total.Inhibits {
			total.Inhibits[k] = sum(total.Inhibits[k], At(x.Inhibits, k))
		}
		for k, s := range x.Signals {
			if k == len(total.Signals) {
				total.Signals = append(total.Signals, analyze.Extent{Signal: s.Signal})
			}
			total.Signals[k] = widest(total.Signals[k], s)
		}
	}
	return total
}

func sum(a, b analyze.Tried) analyze.Tried {
	return analyze.Tried{Caused: a.Caused + b.Caused, Also: a.Also + b.Also}
}

func widest(a, b analyze.Extent) analyze.Extent {
	switch {
	case !b.Seen:
		return a
	case !a.Seen:
		return b
	}
	return analyze.Extent{Signal: a.Signal, Seen: true, Min: min(a.Min, b.Min), Max: max(a.Max, b.Max)}
}

// At returns an element of a list, or the zero value if the list is shorter because the
// result is of another map.
func At[T any](list []T, i int) T {
	var none T
	if i < len(list) {
		return list[i]
	}
	return none
}

// triedText lists the conditions that did what they are there for.
func triedText(head string, conditions []decode.Condition, tried []analyze.Tried) string {
	var parts []string
	for i, t := range tried {
		if t.Caused > 0 {
			parts = append(parts, Visible(conditions[i].Name)+" "+Times(t.Caused))
		}
	}
	switch {
	case len(conditions) == 0:
		return ""
	case len(parts) == 0:
		return head + "none of the signal map's conditions"
	}
	return head + strings.Join(parts, ", ")
}

// codesNamed counts the reasons that the car's own code gave, and no inhibit of the
// map, for an engine that ran on.
func (r *Report) codesNamed() counter {
	var named counter
	for _, l := range r.measuredLogs() {
		for _, s := range l.Result.Standstills {
			isCode := slices.ContainsFunc(s.Codes, func(c analyze.CodeShare) bool { return c.Name == s.Reason })
			isInhibit := slices.ContainsFunc(r.Map.Inhibits, func(c decode.Condition) bool { return c.Name == s.Reason })
			if s.Opportunity && isCode && !isInhibit {
				named.add(Visible(s.Reason))
			}
		}
	}
	return named
}

// rangeText returns the lowest and highest value of the signals that conditions read
// and that are more than switches.
func (r *Report) rangeText(extents []analyze.Extent) string {
	var parts []string
	for _, x := range extents {
		s := &r.Map.Signals[x.Signal]
		if !x.Seen || s.IsSwitch() {
			continue
		}
		text := Visible(s.Name) + " " + Number(x.Min)
		if x.Max != x.Min {
			text += " to " + Number(x.Max)
		}
		if s.Unit != "" {
			text += " " + Visible(s.Unit)
		}
		parts = append(parts, text)
	}
	if len(parts) == 0 {
		return ""
	}
	return "values seen: " + strings.Join(parts, ", ")
}

// untriedText names what was never exercised, with the condition to bring about.
func (r *Report) untriedText(x analyze.Exercised) string {
	var parts []string
	look := func(conditions []decode.Condition, tried []analyze.Tried) {
		for i, t := range tried {
			if t.Caused > 0 {
				continue
			}
			text := fmt.Sprintf("%s (%s)", Visible(conditions[i].Name), Visible(conditionText(r.Map, conditions[i].Expr)))
			if t.Also > 0 {
				text += ", true only beside others"
			}
			parts = append(parts, text)
		}
	}
	look(r.Map.Requests, x.Requests)
	look(r.Map.Inhibits, x.Inhibits)
	if len(r.Map.Requests) > 0 && x.ChangesOfMind == 0 {
		parts = append(parts, "a change of mind (ask for a restart while the engine slows down)")
	}
	if len(parts) == 0 {
		return ""
	}
	return "not covered: " + strings.Join(parts, "; ")
}

// conditionText is a condition in words: "ac is on and cabin_error outside -3 to 3".
func conditionText(m *decode.Map, e *decode.Expr) string {
	if e == nil {
		return ""
	}
	parts := make([]string, len(e.Children))
	for i, c := range e.Children {
		parts[i] = conditionText(m, c)
		if len(c.Children) > 1 && e.Op != decode.OpNot {
			parts[i] = "(" + parts[i] + ")"
		}
	}
	switch e.Op {
	case decode.OpAll:
		return strings.Join(parts, " and ")
	case decode.OpAny:
		return strings.Join(parts, " or ")
	case decode.OpNot:
		return "not (" + strings.Join(parts, "") + ")"
	}
	s := &m.Signals[e.Signal]
	text := s.Name + " " + e.Text
	if s.Unit != "" && e.Op != decode.OpIs && e.Op != decode.OpIsNot {
		text += " " + s.Unit
	}
	return text
}
