package document

import (
	"lull/analyze"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/bounds"
)

// builder converts results to the structs of the documents; m is the map that they were
// found by.
type builder struct{ m *decode.Map }

func (b builder) head(l *words.Log) logHead {
	res, info := l.Result, &l.Result.Info
	h := logHead{
		Name: l.Name, SHA256: l.SHA256, Bytes: l.Bytes, Lines: info.Lines, Frames: res.Frames,
		RejectedLines: info.Rejected, ErrorFrames: info.ErrorFrames, Start: startText(res),
		Interfaces: each(info.Interfaces, func(s string) string { return s }),
		Remarks:    each(info.Remarks, func(m decode.Remark) remarkJSON { return remark(res, m) }),
		Trust: trustJSON{string(res.Trust.Credence), each(res.Trust.Doubts, func(d analyze.Doubt) doubtJSON {
			return doubtJSON{d.Code, orNull(d.Signal), words.DoubtText(&d)}
		})},
		Summary: summaryJSON{
			Standstills: res.Summary.Standstills, Opportunities: res.Summary.Opportunities,
			Stops: res.Summary.Stops, Episodes: res.Summary.Episodes,
			StarterOperations: res.Summary.StarterOperations,
			EngineOff:         finite(res.Summary.EngineOff), FuelSaved: finite(res.Summary.FuelSaved),
		},
		Starter:   starterOf(res.Starter),
		Exercised: b.exercised(res.Exercised),
	}
	if res.HasTime {
		h.Span = number(bounds.Seconds(res.Span))
	}
	return h
}

func remark(res *analyze.Result, m decode.Remark) remarkJSON {
	j := remarkJSON{
		Code: m.Code, Count: m.Count, Line: orNull(m.Line), Text: m.Text,
		Places: each(m.Places, func(p decode.Place) placeJSON {
			return placeJSON{Line: p.Line, Column: orNull(p.Column), Why: p.Why}
		}),
	}
	if m.HasTime && res.HasTime {
		j.T = number(bounds.Seconds(m.Time - res.Start))
	}
	return j
}

func starterOf(s analyze.Starter) starterJSON {
	j := starterJSON{Operations: operationsJSON{Key: s.Key, Restart: s.Restart, Retry: s.Retry}}
	if s.Absent != nil {
		a := absentOf(s.Absent)
		j.First, j.Last, j.Step, j.Agrees = a, a, a, a
		return j
	}
	j.First, j.Last, j.Step, j.Agrees = finite(s.First), finite(s.Last), finite(s.Step), s.Agrees
	return j
}

func (b builder) exercised(x analyze.Exercised) exercisedJSON {
	j := exercisedJSON{
		Requests: []requestCountJSON{}, Inhibits: []inhibitCountJSON{}, ChangesOfMind: x.ChangesOfMind,
		Signals: each(x.Signals, b.extent),
	}
	for i := range b.m.Requests {
		t := words.At(x.Requests, i)
		j.Requests = append(j.Requests, requestCountJSON{b.m.Requests[i].Name, t.Caused, t.Also})
	}
	for i := range b.m.Inhibits {
		t := words.At(x.Inhibits, i)
		j.Inhibits = append(j.Inhibits, inhibitCountJSON{b.m.Inhibits[i].Name, t.Caused, t.Also})
	}
	return j
}

func (b builder) extent(x analyze.Extent) extentJSON {
	s := &b.m.Signals[x.Signal]
	j := extentJSON{Name: s.Name, Unit: s.Unit}
	if x.Seen {
		j.Min, j.Max = number(x.Min), number(x.Max)
	}
	return j
}

func (b builder) request(q analyze.Request) requestJSON {
	c := &b.m.Requests[q.Condition]
	return requestJSON{Name: c.Name, By: c.By.String(), instantJSON: instant(q.Instant)}
}

func (b builder) episode(e *analyze.Episode) episodeJSON {
	j := episodeJSON{
		N: e.N, Outcome: string(e.Outcome), Stop: event(e.Stop), Rest: instantOrNull(e.Rest),
		Cranks: each(e.Cranks, event), Running: instantOrNull(e.Running),
		Metrics: metricsJSON(e.Metrics), Limits: each(e.Limits, limit),
		Notes: each(e.Notes, words.NoteText),
	}
	if e.Request != nil {
		j.Request = &firstRequestJSON{b.request(*e.Request), each(e.Also, b.request)}
	}
	if e.Decision != nil {
		d := event(*e.Decision)
		j.Decision = &d
	}
	return j
}

func limit(v analyze.LimitVerdict) limitJSON {
	j := limitJSON{Metric: v.Limit.Metric, Verdict: string(v.Verdict)}
	if v.Limit.HasMin {
		j.Min = &v.Limit.Min
	}
	if v.Limit.HasMax {
		j.Max = &v.Limit.Max
	}
	return j
}

func (b builder) standstill(s *analyze.Standstill) standstillJSON {
	j := standstillJSON{
		N: s.N, Start: instant(s.Start), End: instant(s.End), Opportunity: s.Opportunity, NotCounted: orNull(string(s.NotCounted)), Open: s.Open,
		Stopped: s.Stopped, Episode: orNull(s.Episode), Covered: finite(s.Covered), Reason: orNull(s.Reason),
		Unexplained: s.Unexplained, CannotTell: each(s.CannotTell, func(n string) string { return n }),
		Inhibits: each(s.Inhibits, b.inhibit),
		Codes:    each(s.Codes, func(c analyze.CodeShare) codeJSON { return codeJSON{c.Name, finite(c.Share)} }),
	}
	if s.StopDelay != nil {
		m := metric(*s.StopDelay)
		j.StopDelay = &m
	}
	return j
}

func (b builder) inhibit(i analyze.InhibitShare) inhibitJSON {
	return inhibitJSON{
		Name: b.m.Inhibits[i.Condition].Name, Share: finite(i.Share), State: i.State,
		Intervals: each(i.Intervals, func(p [2]int64) [2]float64 {
			return [2]float64{bounds.Seconds(p[0]), bounds.Seconds(p[1])}
		}),
		Measured: each(i.Measured, func(m analyze.Measured) measuredJSON {
			s := &b.m.Signals[m.Signal]
			j := measuredJSON{Signal: s.Name, Unit: s.Unit, Against: m.Against}
			if m.Value.Seen {
				j.Value = number(m.Value.Value)
			}
			return j
		}),
	}
}

func (b builder) tail(res *analyze.Result) logTail {
	return logTail{
		Standstills: each(res.Standstills, func(s analyze.Standstill) standstillJSON { return b.standstill(&s) }),
		Starts: each(res.Starts, func(s analyze.Start) startJSON {
			return startJSON{
				N: s.N, Kind: string(s.Kind), Episode: orNull(s.Episode), Crank: event(s.Crank),
				Running: instantOrNull(s.Running), Metrics: metricsJSON(s.Metrics),
			}
		}),
		Silences: each(res.Silences, func(s analyze.Silence) silenceJSON {
			return silenceJSON{
				ID: s.ID, Bus: s.Bus, Module: orNull(s.Module), Start: bounds.Seconds(s.Start),
				Duration: bounds.Seconds(s.Duration), Period: bounds.Seconds(s.Period), Episode: orNull(s.Episode),
			}
		}),
		Gaps: each(res.Gaps, func(g analyze.Gap) gapJSON {
			return gapJSON{bounds.Seconds(g.Start), bounds.Seconds(g.End)}
		}),
		Findings: each(res.Findings, finding),
	}
}

func finding(f analyze.Finding) findingJSON {
	return findingJSON{
		Code: f.Code, Severity: string(f.Severity), Text: words.FindingText(&f),
		Evidence: each(f.Evidence, func(s string) string { return s }),
	}
}

// startText returns the date of a log's first frame, nil if its time stamps carry no date.
func startText(res *analyze.Result) *string {
	text, ok := words.StartText(res)
	if !ok {
		return nil
	}
	return &text
}
