package words

import (
	"fmt"
	"strings"
	"time"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
)

// Fault is the one episode or standstill that a sheet shows.
type Fault struct {
	Log        int    // its index in the report
	Standstill bool   // else it is an episode
	Place      int    // its index in the log's result
	Metric     string // whose limit it breaks, or by which it was chosen; "" where neither
	Caption    string
}

// Fault finds what shows best what is wrong: a start that failed, the value furthest out of
// limits of what is likeliest the cause, an episode in which modules fell silent, a standstill
// that was not explained; else the slowest restart. ok is false where there is nothing.
func (r *Report) Fault() (f Fault, ok bool) {
	t := r.tally()
	broken := t.brokenInOrder()
	best, most := 0, 0.0 // how grave what was found is, and among its like
	take := func(grave int, amount float64, found Fault) {
		if grave > best || grave == best && amount > most {
			best, most, f, ok = grave, amount, found, true
		}
	}
	for i := range r.Logs {
		res := r.Logs[i].Result
		if !res.Usable() {
			continue
		}
		silent := map[int]bool{}
		for _, s := range res.Silences {
			silent[s.Episode] = true
		}
		for k := range res.Episodes {
			e := &res.Episodes[k]
			here := Fault{Log: i, Place: k}
			switch {
			case e.Outcome == analyze.NoStart:
				take(7, float64(len(e.Cranks)), here)
			case e.Outcome == analyze.Stalled:
				take(6, 0, here)
			case len(e.Cranks) > 1:
				take(5, float64(len(e.Cranks)), here)
			case silent[e.N]:
				take(3, 0, here)
			}
			for _, v := range e.Limits {
				if len(broken) > 0 && v.Limit.Metric == broken[0] && v.Verdict == analyze.Outside {
					m, _ := MetricOf(e.Metrics, v.Limit.Metric)
					take(4, beyond(m, v.Limit), Fault{Log: i, Place: k, Metric: v.Limit.Metric})
				}
			}
			if m, known := MetricOf(e.Metrics, waitMetric); known && e.Outcome != analyze.InGap {
				take(1, m.Best, Fault{Log: i, Place: k, Metric: waitMetric})
			}
		}
		for k := range res.Standstills {
			if s := &res.Standstills[k]; s.Unexplained {
				take(2, bounds.Sub(s.Start, s.End).Best, Fault{Log: i, Standstill: true, Place: k})
			}
		}
	}
	if ok {
		f.Caption = r.caption(&f, best > 1)
	}
	return f, ok
}

// caption says what the picture of a fault shows.
func (r *Report) caption(f *Fault, wrong bool) string {
	l := &r.Logs[f.Log]
	if f.Standstill {
		s := &l.Result.Standstills[f.Place]
		return fmt.Sprintf("Where it shows: standstill %s s into %s, %s s long", Moment(s.Start), Visible(l.Name), Length(s.Start, s.End))
	}
	e := &l.Result.Episodes[f.Place]
	lead := "The slowest restart"
	if wrong {
		lead = "Where it shows most"
	}
	how := ""
	if Failed(e) {
		how = strings.TrimPrefix(OutcomeWord(e).Text, failureMark) + ", "
	}
	text := fmt.Sprintf("%s: episode %d, %s%s s into %s", lead, e.N, how, Moment(e.Stop.Instant), Visible(l.Name))
	if e.Outcome == analyze.NoStart {
		text += "; " + starterText(e)
	}
	return text
}

// Driven says what was driven: when, how long and far, how many stops.
func (r *Report) Driven() string {
	var first, last time.Time
	var seconds, km float64
	far, zone := true, " UTC"
	for i := range r.Logs {
		res := r.Logs[i].Result
		seconds += bounds.Seconds(res.Span)
		far = far && res.Distance.Absent == nil && res.Usable()
		km += orNone(res.Distance.Value)
		if !Dated(res) {
			continue
		}
		if res.Info.Stamps != decode.StampsAbsolute {
			zone = ""
		}
		from, to := time.Unix(0, res.Start).UTC(), time.Unix(0, res.Start+res.Span).UTC()
		if first.IsZero() || from.Before(first) {
			first = from
		}
		if to.After(last) {
			last = to
		}
	}
	var parts []string
	switch {
	case first.IsZero():
		parts = append(parts, "no date in the "+decode.Pick(len(r.Logs), "log", "logs"))
	case first.Format(time.DateOnly) == last.Format(time.DateOnly):
		parts = append(parts, first.Format("2006-01-02, 15:04")+" to "+last.Format("15:04")+zone)
	default:
		parts = append(parts, first.Format(time.DateOnly)+" to "+last.Format(time.DateOnly))
	}
	length := lasting(seconds)
	if far && km >= 0.1 {
		length += " and " + Fixed(km, 1) + " km"
	}
	parts = append(parts, length, r.logsText())
	text := strings.Join(parts, "; ") + "."
	if t := r.tally(); t.logs > 0 && t.opportunities+t.episodes > 0 {
		t.logs = 1 // how many there are was just said
		text += " " + r.stopsSentence(t)
	}
	return text
}

// logsText names a log, or counts several.
func (r *Report) logsText() string {
	if len(r.Logs) == 1 {
		return Visible(r.Logs[0].Name)
	}
	return decode.Counted(int64(len(r.Logs)), "log", "logs")
}

// lasting says how long something took, as people do: "2 min 29 s".
func lasting(seconds float64) string {
	s := int64(seconds + 0.5)
	switch {
	case s < 60:
		return fmt.Sprintf("%d s", s)
	case s < 3600:
		return fmt.Sprintf("%d min %d s", s/60, s%60)
	}
	return fmt.Sprintf("%d h %d min", s/3600, s/60%60)
}

// OnSide is a caption with the side of a repair that it is of.
func OnSide(caption string, before bool) string {
	if before {
		return "Before the repair. " + caption
	}
	return "After the repair. " + caption
}

// NotCompared says why a side cannot be compared with.
func NotCompared(before *Report) string {
	if text := before.TrustText(); text != "" {
		return text
	}
	return NothingCompared
}
