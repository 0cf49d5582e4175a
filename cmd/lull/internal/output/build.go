package output

import (
	"bytes"
	"encoding/json"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
)

// metricsJSON keeps the order of the metrics, which a Go map would not.
type metricsJSON []analyze.MetricValue

// notFinite is why a figure is absent that JSON cannot hold.
const notFinite = "not a finite number"

type metricJSON struct {
	Absent        string   `json:"absent,omitempty"`
	Value         *float64 `json:"value,omitempty"`
	Low           *float64 `json:"low,omitempty"`
	High          *float64 `json:"high,omitempty"`
	Unit          string   `json:"unit,omitempty"`
	Sampling      *float64 `json:"sampling,omitempty"`
	StandardError *float64 `json:"standard_error,omitempty"`
	Unseen        *float64 `json:"unseen,omitempty"`
}

func metric(m analyze.MetricValue) metricJSON {
	if m.Absent != "" {
		return metricJSON{Absent: m.Absent}
	}
	j := metricJSON{Value: number(m.Best), Low: number(m.Low), High: number(m.High), Unit: m.Unit}
	if j.Value == nil || j.Low == nil || j.High == nil {
		return metricJSON{Absent: notFinite}
	}
	if m.HasSampling {
		j.Sampling = number(m.Sampling)
	}
	if m.HasStandardError {
		j.StandardError = number(m.StandardError)
	}
	if m.Unseen > 0 {
		j.Unseen = number(m.Unseen)
	}
	return j
}

// MarshalJSON writes {"key": {...}, ...} in the order of the list.
func (list metricsJSON) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, m := range list {
		if i > 0 {
			b.WriteByte(',')
		}
		key, err := marshal(m.Key)
		if err != nil {
			return nil, err
		}
		value, err := marshal(metric(m))
		if err != nil {
			return nil, err
		}
		b.Write(key)
		b.WriteByte(':')
		b.Write(value)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// marshal is json.Marshal that leaves < > & readable.
func marshal(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimRight(b.Bytes(), "\n"), nil
}

func (r *Report) head(l *Log) logHead {
	res, info := l.Result, &l.Result.Info
	h := logHead{
		Name: l.Name, SHA256: l.SHA256, Bytes: l.Bytes, Lines: info.Lines, Frames: res.Frames,
		RejectedLines: info.Rejected, ErrorFrames: info.ErrorFrames, Start: startText(res),
		Interfaces: each(info.Interfaces, func(s string) string { return s }),
		Remarks:    each(info.Remarks, func(m decode.Remark) remarkJSON { return remark(res, m) }),
		Summary: summaryJSON{
			Standstills: res.Summary.Standstills, Opportunities: res.Summary.Opportunities,
			Stops: res.Summary.Stops, Episodes: res.Summary.Episodes,
			StarterOperations: res.Summary.StarterOperations,
			EngineOff:         finite(res.Summary.EngineOff), FuelSaved: finite(res.Summary.FuelSaved),
		},
		Starter:   starterOf(res.Starter),
		Exercised: r.exercised(res.Exercised),
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
	if s.Absent != "" {
		a := absentJSON{s.Absent}
		j.First, j.Last, j.Step, j.Agrees = a, a, a, a
		return j
	}
	j.First, j.Last, j.Step, j.Agrees = finite(s.First), finite(s.Last), finite(s.Step), s.Agrees
	return j
}

func (r *Report) exercised(x analyze.Exercised) exercisedJSON {
	j := exercisedJSON{
		Requests: []requestCountJSON{}, Inhibits: []inhibitCountJSON{}, ChangesOfMind: x.ChangesOfMind,
		Signals: each(x.Signals, r.extent),
	}
	for i := range r.Map.Requests {
		t := at(x.Requests, i)
		j.Requests = append(j.Requests, requestCountJSON{r.Map.Requests[i].Name, t.Caused, t.Also})
	}
	for i := range r.Map.Inhibits {
		t := at(x.Inhibits, i)
		j.Inhibits = append(j.Inhibits, inhibitCountJSON{r.Map.Inhibits[i].Name, t.Caused, t.Also})
	}
	return j
}

func (r *Report) extent(x analyze.Extent) extentJSON {
	s := &r.Map.Signals[x.Signal]
	j := extentJSON{Name: s.Name, Unit: s.Unit}
	if x.Seen {
		j.Min, j.Max = number(x.Min), number(x.Max)
	}
	return j
}

func (r *Report) request(q analyze.Request) requestJSON {
	c := &r.Map.Requests[q.Condition]
	return requestJSON{Name: c.Name, By: c.By.String(), instantJSON: instant(q.Instant)}
}

func (r *Report) episode(e *analyze.Episode) episodeJSON {
	j := episodeJSON{
		N: e.N, Outcome: string(e.Outcome), Stop: event(e.Stop), Rest: instantOrNull(e.Rest),
		Cranks: each(e.Cranks, event), Running: instantOrNull(e.Running),
		Metrics: metricsJSON(e.Metrics), Limits: each(e.Limits, limit),
		Notes: each(e.Notes, func(s string) string { return s }),
	}
	if e.Request != nil {
		j.Request = &firstRequestJSON{r.request(*e.Request), each(e.Also, r.request)}
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

func (r *Report) standstill(s *analyze.Standstill) standstillJSON {
	j := standstillJSON{
		N: s.N, Start: instant(s.Start), End: instant(s.End), Opportunity: s.Opportunity, Open: s.Open,
		Stopped: s.Stopped, Episode: orNull(s.Episode), Covered: finite(s.Covered), Reason: orNull(s.Reason),
		Unexplained: s.Unexplained, CannotTell: each(s.CannotTell, func(n string) string { return n }),
		Inhibits: each(s.Inhibits, r.inhibit),
		Codes:    each(s.Codes, func(c analyze.CodeShare) codeJSON { return codeJSON{c.Name, finite(c.Share)} }),
	}
	if s.StopDelay != nil {
		m := metric(*s.StopDelay)
		j.StopDelay = &m
	}
	return j
}

func (r *Report) inhibit(i analyze.InhibitShare) inhibitJSON {
	return inhibitJSON{
		Name: r.Map.Inhibits[i.Condition].Name, Share: finite(i.Share), State: i.State,
		Intervals: each(i.Intervals, func(p [2]int64) [2]float64 {
			return [2]float64{bounds.Seconds(p[0]), bounds.Seconds(p[1])}
		}),
		Measured: each(i.Measured, func(m analyze.Measured) measuredJSON {
			s := &r.Map.Signals[m.Signal]
			j := measuredJSON{Signal: s.Name, Unit: s.Unit, Against: m.Against}
			if m.Value.Seen {
				j.Value = number(m.Value.Value)
			}
			return j
		}),
	}
}

func (r *Report) tail(res *analyze.Result) logTail {
	return logTail{
		Standstills: each(res.Standstills, func(s analyze.Standstill) standstillJSON { return r.standstill(&s) }),
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
		Code: f.Code, Severity: string(f.Severity), Text: f.Text,
		Evidence: each(f.Evidence, func(s string) string { return s }),
	}
}
