package measuring

import (
	"bytes"
	"cmp"
	"context"
	"slices"

	"lull/analyze"
	"lull/analyze/draft"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/logfile"
	"lull/decode/sigmap"
	"lull/pkg/source"
)

// mostCurved is how many logs have curves.
const mostCurved = 8

// Curve is a drafted signal over a log. Switches are 0 and 1.
type Curve struct {
	Points []analyze.TracePoint
	Span   int64 // of the log, ns
}

// curves reads a log for the curve of each drafted signal, whether it is written into the
// map or not.
func (l *Logs) curves(ctx context.Context, d *words.Draft, in source.Input) ([]Curve, error) {
	m := whole(d, l.Bus)
	if m == nil {
		return nil, nil
	}
	signals := d.Result.Signals
	place := make([]int, len(m.Signals)) // in signals, from 1
	for i := range m.Signals {
		place[i] = 1 + slices.IndexFunc(signals, func(s draft.Signal) bool { return s.Name == m.Signals[i].Name })
	}
	thinned := make([]thinner, len(signals))
	decoder := decode.NewDecoder(m)
	var zero, last int64
	first := true
	_, err := l.Scan(ctx, in, logfile.Visitor{Frame: func(f *decode.Frame, _ logfile.Reader) error {
		if first {
			first, zero = false, f.Time
		}
		at := max(f.Time-zero, 0)
		last = max(last, at)
		for _, x := range decoder.Decode(f) {
			k := place[x.Signal] - 1
			if k < 0 || !x.Valid {
				continue
			}
			v := x.Value
			if s := &signals[k]; s.What.Switch() {
				v = isOn(s, x.Raw)
			}
			thinned[k].add(analyze.TracePoint{T: at, Value: v})
		}
		return nil
	}})
	if err != nil {
		return nil, err
	}
	list := make([]Curve, len(signals))
	for i := range list {
		list[i] = Curve{thinned[i].points(), last}
	}
	return list, nil
}

// whole is a map of all drafted signals, good for decoding alone: only the engine speed has
// its role, as others ask for more than a guess has. Should they not go together, those that
// are written are taken.
func whole(d *words.Draft, bus string) *decode.Map {
	for _, all := range []bool{true, false} {
		t := d.Map()
		if t == nil {
			return nil
		}
		t.Requests = nil
		for i := range t.Frames {
			for k := range t.Frames[i].Signals {
				s := &t.Frames[i].Signals[k]
				s.Out = s.Out && !all
				if s.Signal.Role != decode.EngineSpeed {
					s.Signal.Role = decode.NoRole
					s.Signal.HasActive, s.Signal.Active = false, nil // which roles alone may have
				}
			}
		}
		var b bytes.Buffer
		if err := sigmap.Write(&b, t); err != nil {
			continue
		}
		if m, err := sigmap.Parse(MapName, b.Bytes()); err == nil {
			return OnlyBus(m, bus)
		}
	}
	return nil
}

func isOn(s *draft.Signal, raw int64) float64 {
	on := raw == 1
	if s.Field.HasActive {
		on = slices.Contains(s.Field.Active, raw)
	}
	if on {
		return 1
	}
	return 0
}

// mostColumns is how many columns a curve has, of three points each at the most.
const mostColumns = 200

// thinner keeps of the points in each column of time the lowest, the highest and the last.
// Columns become wider as time goes on.
type thinner struct {
	width   int64 // ns
	columns []column
}

type column struct {
	at              int64 // its number, in widths
	low, high, last analyze.TracePoint
}

func (t *thinner) add(p analyze.TracePoint) {
	if t.width == 0 {
		t.width = 10e6
	}
	t.take(column{p.T / t.width, p, p, p})
	for len(t.columns) > mostColumns {
		t.width *= 2
		old := t.columns
		t.columns = old[:0]
		for _, c := range old {
			c.at /= 2
			t.take(c)
		}
	}
}

// take adds a column, or joins it to the one before if that has the same number or, as time
// was set back, a later one.
func (t *thinner) take(c column) {
	if n := len(t.columns); n > 0 && c.at <= t.columns[n-1].at {
		x := &t.columns[n-1]
		if c.low.Value < x.low.Value {
			x.low = c.low
		}
		if c.high.Value > x.high.Value {
			x.high = c.high
		}
		x.last = c.last
		return
	}
	t.columns = append(t.columns, c)
}

func (t *thinner) points() []analyze.TracePoint {
	var list []analyze.TracePoint
	for _, c := range t.columns {
		some := []analyze.TracePoint{c.low, c.high, c.last}
		slices.SortStableFunc(some, func(a, b analyze.TracePoint) int { return cmp.Compare(a.T, b.T) })
		for _, p := range some {
			if n := len(list); n == 0 || p != list[n-1] {
				list = append(list, p)
			}
		}
	}
	return list
}
