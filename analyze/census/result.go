package census

import (
	"cmp"
	"fmt"
	"slices"

	"lull/analyze"
	"lull/decode"
	"lull/decode/standard"
)

// Result is what one log holds, as plain data. Times are nanoseconds from the
// log's first frame of any kind. Nothing in it is rounded.
type Result struct {
	// Info is what the reader counted; its Remarks include those of the count.
	Info decode.Info
	// HasTime reports whether the log has times; without them there are no periods,
	// silences and gaps.
	HasTime bool
	Start   int64 // time of the first frame, as decode.Frame.Time
	Span    int64

	// Of the interfaces asked for, frames of every kind, and those of two kinds.
	Frames, ErrorFrames, RemoteFrames int64

	Errors []ErrorCount  // the commonest first
	Gaps   []analyze.Gap // in the log's order
	Buses  []Bus         // in order of appearance
	IDs    []ID          // by interface in order of appearance, 11-bit ones first, by number
	// Answers are those to a scan tool, in the order of IDs, of services and of numbers.
	Answers []Answer
}

// ErrorCount is how often an interface reported one kind of error.
type ErrorCount struct {
	Bus, Text string
	Count     int64
}

// Bus is one interface.
type Bus struct {
	Name   string
	Frames int64
	Bits   int64 // on the wire, as wire.Bits; 0 where not asked for
	// J1939: its identifiers are those of SAE J1939, so that their groups have names.
	J1939 bool
}

// ID is what came under one identifier on one interface.
type ID struct {
	Bus      string
	ID       uint32
	Extended bool
	FD       bool // some of its frames were FD frames
	Count    int64
	Remote   int64
	Lengths  []int // bytes of its data frames, ascending

	// Period is the median of the times between its data frames, Jitter half the
	// range of the middle 90 % of them, in ns. HasPeriod reports whether there are
	// any.
	HasPeriod      bool
	Period, Jitter float64
	// Regular reports whether absences can be judged by the period: it stands on at
	// least ten times, of which no more than one in ten is longer than five
	// periods.
	Regular bool

	// Changing are the bits seen in both states, as 8 x byte + bit in the byte,
	// bit 0 the least significant.
	Changing []int
	Silences []Silence

	// Bytes is what was seen in each byte of the payloads; nil where not asked for.
	Bytes []Byte
}

// Silence is a time in which a regular identifier stayed away for more than five
// periods and at least 100 ms. Gaps in it are left out of its duration.
type Silence struct{ Start, Duration int64 }

// RemarkLeftOut says that a log of garbage has more interfaces, identifiers or
// kinds of errors than are listed.
const RemarkLeftOut = "left_out"

const (
	// learnGaps is how many times between frames a period must stand on before
	// absences are judged by it.
	learnGaps = 10
	// silenceFactor is how many periods of absence are a silence or a gap.
	silenceFactor = 5
)

// Result returns what was counted. info is what the reader counted of the same
// log.
func (c *Counter) Result(info decode.Info) *Result {
	r := &Result{
		Info: info, HasTime: c.started && info.Stamps != decode.StampsNone,
		Frames: c.frames, ErrorFrames: c.errorFrames, RemoteFrames: c.remoteFrames,
	}
	if r.HasTime {
		r.Start, r.Span = c.zero, c.end
	}
	for _, b := range c.buses {
		r.Buses = append(r.Buses, Bus{Name: b.name, Frames: b.frames, Bits: b.bits})
	}
	for _, k := range c.order {
		r.Errors = append(r.Errors, ErrorCount{Bus: c.buses[k.bus].name, Text: k.kind.String(), Count: c.errors[k]})
	}
	slices.SortStableFunc(r.Errors, func(a, b ErrorCount) int { return cmp.Compare(b.Count, a.Count) })

	limits, shortest := c.limits(r.HasTime)
	gaps := c.gapsFrom(shortest)
	for _, g := range gaps {
		r.Gaps = append(r.Gaps, analyze.Gap{Start: g.start, End: g.end})
	}
	more := shortest > 0 && c.gaps.dropped >= shortest
	for i := range c.rows {
		id, cut := c.id(&c.rows[i], limits[i], gaps, r.HasTime)
		r.IDs = append(r.IDs, id)
		more = more || cut
	}
	c.standards(r)
	r.Answers = c.answers.result(c)
	order := make(map[string]int)
	for i, b := range c.buses {
		order[b.name] = i
	}
	slices.SortFunc(r.IDs, func(a, b ID) int {
		return cmp.Or(cmp.Compare(order[a.Bus], order[b.Bus]), boolean(a.Extended)-boolean(b.Extended), cmp.Compare(a.ID, b.ID))
	})
	r.Info.Remarks = append(slices.Clone(info.Remarks), c.remarks(r.HasTime, more)...)
	return r
}

// standards finds out of each interface whether it follows SAE J1939.
func (c *Counter) standards(r *Result) {
	found := make([]standard.J1939, len(c.buses))
	for i := range c.rows {
		if x := &c.rows[i]; x.count > 0 {
			lengths := x.lengthsSeen()
			found[x.key.bus].Add(x.key.id, x.key.extended, lengths[len(lengths)-1])
		}
	}
	for i := range found {
		r.Buses[i].J1939 = found[i].Follows()
	}
}

func boolean(b bool) int {
	if b {
		return 1
	}
	return 0
}

// limits gives for each row from which length on its absence is a silence, 0
// where there is no telling, and the length from which on the absence of all
// frames is a gap, likewise.
func (c *Counter) limits(timed bool) (limits []int64, gap int64) {
	limits = make([]int64, len(c.rows))
	for i := range c.rows {
		g := &c.rows[i].gaps
		if !timed || g.count < learnGaps {
			continue
		}
		// Where more than one time in ten is longer than five periods, frames come
		// in heaps or when something happens: nothing can be missed.
		period := g.quantile(50)
		if period <= 0 || g.quantile(90) > silenceFactor*period {
			continue
		}
		limits[i] = max(int64(silenceFactor*period)+1, leastAbsence)
		if gap == 0 || limits[i] < gap {
			gap = limits[i]
		}
	}
	return limits, gap
}

// gapsFrom returns the absences of all frames that are at least so long.
func (c *Counter) gapsFrom(limit int64) []absence {
	var gaps []absence
	for _, a := range c.gaps.list {
		if limit > 0 && a.length() >= limit {
			gaps = append(gaps, a)
		}
	}
	slices.SortFunc(gaps, func(a, b absence) int {
		return cmp.Or(cmp.Compare(a.part, b.part), cmp.Compare(a.start, b.start))
	})
	return gaps
}

// id makes the row's result; cut tells that it has more silences than are kept.
func (c *Counter) id(r *row, limit int64, gaps []absence, timed bool) (id ID, cut bool) {
	id = ID{
		Bus: c.buses[r.key.bus].name, ID: r.key.id, Extended: r.key.extended, FD: r.fd,
		Count: r.count, Remote: r.remote, Lengths: r.lengthsSeen(), Changing: r.changing(), Bytes: r.values.list(),
	}
	if timed && r.gaps.count > 0 {
		id.HasPeriod = true
		id.Period = r.gaps.quantile(50)
		id.Jitter = (r.gaps.quantile(95) - r.gaps.quantile(5)) / 2
	}
	if limit == 0 {
		return id, false
	}
	id.Regular = true
	away := slices.Clone(r.away.list)
	if r.part == c.part && c.latest-r.last >= limit {
		away = append(away, absence{r.last, c.latest, c.part, 0})
	}
	slices.SortFunc(away, func(a, b absence) int {
		return cmp.Or(cmp.Compare(a.part, b.part), cmp.Compare(a.start, b.start))
	})
	for _, a := range away {
		if a.length() < limit {
			continue
		}
		if rest := a.length() - within(a, gaps); rest >= limit {
			id.Silences = append(id.Silences, Silence{a.start, rest})
		}
	}
	return id, r.away.dropped >= limit
}

// within sums up the gaps that lie in an absence. A gap is the absence of every
// identifier, so it lies in it wholly or not at all.
func within(a absence, gaps []absence) int64 {
	from, _ := slices.BinarySearchFunc(gaps, a, func(g, a absence) int {
		return cmp.Or(cmp.Compare(g.part, a.part), cmp.Compare(g.start, a.start))
	})
	var sum int64
	for _, g := range gaps[from:] {
		if g.part != a.part || g.end > a.end {
			break
		}
		sum += g.length()
	}
	return sum
}

func (c *Counter) remarks(timed, more bool) []decode.Remark {
	var list []decode.Remark
	if timed && c.back.Count > 0 {
		m := c.back
		m.Text = decode.Counted(m.Count, "time stamp lies", "time stamps lie") + " before the one of the line before"
		m.Time += c.zero
		list = append(list, m)
	}
	if timed && c.jumps.Count > 0 {
		m := c.jumps
		m.Text = "time runs back by more than 100 ms at " + decode.Counted(m.Count, "place", "places")
		m.Time += c.zero
		list = append(list, m)
	}
	leftOut := func(n int64, text string) {
		if n > 0 {
			list = append(list, decode.Remark{Code: RemarkLeftOut, Count: n, Text: text})
		}
	}
	leftOut(c.unnamed, fmt.Sprintf("%s of further interfaces left out; the first %d are listed", decode.Counted(c.unnamed, "frame", "frames"), mostBuses))
	leftOut(c.uncounted, fmt.Sprintf("%s of further identifiers left out; the first %d are listed", decode.Counted(c.uncounted, "frame", "frames"), mostIDs))
	leftOut(c.unexplained, fmt.Sprintf("%s of further kinds left out; the first %d kinds are listed", decode.Counted(c.unexplained, "error frame", "error frames"), mostErrors))
	leftOut(c.answers.left, fmt.Sprintf("%s of further kinds left out; the first %d kinds are listed", decode.Counted(c.answers.left, "answer of a module", "answers of modules"), mostAnswers))
	leftOut(c.dull, fmt.Sprintf("the values of %s are not kept: there are too many identifiers", decode.Counted(c.dull, "frame", "frames")))
	if more {
		leftOut(1, fmt.Sprintf("there are more silences or gaps than are listed: the %d longest of an identifier, the %d longest of the log", mostSilences, mostGaps))
	}
	return list
}
