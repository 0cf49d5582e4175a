package draft

import (
	"math"
	"slices"
	"strconv"

	"lull/decode"
	"lull/decode/standard"
)

// reference is a value that a scan tool polls (SAE J1979), which a field of the bus may
// follow. Its scaling is that of package standard.
type reference struct {
	what     Quantity
	pid      uint8
	step     float64 // how finely the answer tells it, and how well two modules agree
	required float64 // what a field must be able to hold
}

// references holds the PIDs that matter.
var references = []reference{
	{EngineSpeed, 0x0C, 2, 8000},
	{VehicleSpeed, 0x0D, 1, 250},
	{BatteryVoltage, 0x42, 0.05, 20},
	{Coolant, 0x05, 1, 200},
	{FuelRate, 0x5E, 0.1, 30},
}

// polled gathers the answers to a scan tool. They are decoded as those of a map that
// names all of them.
type polled struct {
	m       *decode.Map
	decoder *decode.Decoder
	found   []series // by signal of m
}

func decimal(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

func newPolled() *polled {
	m := &decode.Map{}
	add := func(response uint32, extended bool) {
		for i := range references {
			r := &references[i]
			pid, _ := standard.FindPID(r.pid)
			scale, err := decode.ParseScale(decimal(pid.Factor), decimal(pid.Offset))
			if err != nil {
				panic("draft: " + err.Error()) // the table above is wrong
			}
			entry := decode.Entry{Kind: decode.ByOBD, Source: -1, Mode: 1, PID: r.pid, Response: response, ResponseExtended: extended, Address: -1, Signals: []int{len(m.Signals)}}
			signal := decode.Signal{Name: r.what.Name(), Entry: len(m.Entries), Start: 7, Length: 8 * pid.Bytes, BigEndian: pid.Bytes > 1, Scale: scale, Unit: r.what.Unit()}
			if pid.Bytes == 1 {
				signal.Start = 0
			}
			m.Entries, m.Signals = append(m.Entries, entry), append(m.Signals, signal)
		}
	}
	for id := uint32(0x7E8); id <= 0x7EF; id++ {
		add(id, false)
	}
	for source := range uint32(0x100) {
		add(0x18DAF100|source, true)
	}
	for i := range m.Role {
		m.Role[i] = -1
	}
	return &polled{m: m, decoder: decode.NewDecoder(m), found: make([]series, len(m.Signals))}
}

func (p *polled) push(f *decode.Frame, at float64) {
	samples := p.decoder.Decode(f)
	for i := range samples {
		if s := &samples[i]; s.Valid {
			x := &p.found[s.Signal]
			x.t, x.v = append(x.t, at), append(x.v, s.Value)
		}
	}
}

// answer is the polled values of one quantity, of the module that tells most.
type answer struct {
	reference
	signal *decode.Signal
	entry  *decode.Entry
	series
}

// best returns the answers to a reference of the module whose answers vary, and of those
// the one that gave most.
func (p *polled) best(r reference) (answer, bool) {
	var best answer
	rank := func(x series) int {
		n := len(x.t)
		if n > 0 && slices.Min(x.v) != slices.Max(x.v) {
			n += 1 << 40
		}
		return n
	}
	for i := range p.m.Signals {
		s := &p.m.Signals[i]
		e := &p.m.Entries[s.Entry]
		if x := p.found[i]; e.PID == r.pid && rank(x) > rank(best.series) {
			best = answer{r, s, e, x}
		}
	}
	return best, len(best.t) > 0
}

// follower is a field that follows the answers: reference = factor x raw + offset.
type follower struct {
	field          field
	factor, offset float64
	lag            float64 // s by which the answer is later
	rms            float64 // of what is left, outliers tamed
	count          int
	pool           []follower // those that follow about as well
	measured       float64    // the factor before it was rounded to a usual one
	usual          bool       // there was one
	missed         float64    // by which the offset misses the nearest usual one
}

// usualFactors are the factors that fields of a bus have.
var usualFactors = func() []float64 {
	list := []float64{50.0 / 64, 100.0 / 255, 0.05625, 0.0625 * 0.9, 0.001 / 0.36}
	for _, m := range []float64{1, 2, 2.5, 4, 5, 7.5, 8} {
		for e := -4; e <= 1; e++ {
			list = append(list, m*math.Pow(10, float64(e)))
		}
	}
	for k := -10; k <= 6; k++ {
		list = append(list, math.Ldexp(1, k))
	}
	for k := -2; k <= 6; k++ {
		list = append(list, math.Ldexp(0.75, -k))
	}
	for _, m := range []float64{1, 0.1, 0.01, 0.5, 0.05, 0.25, 0.125} {
		list = append(list, m*1.609344) // miles
	}
	slices.Sort(list)
	return list
}()

// usual returns the usual factor within a tolerance of x, if there is one.
func usual(x, tolerance float64) (float64, bool) {
	best := usualFactors[0]
	for _, f := range usualFactors {
		if math.Abs(math.Log(f/x)) < math.Abs(math.Log(best/x)) {
			best = f
		}
	}
	return best, math.Abs(math.Log(best/x)) <= tolerance
}

// usualOffsets are the offsets that temperatures and road speeds have, and what has none.
var usualOffsets = []float64{0, -40, -48, -50, -100, -273}

// lags are by how much a scan tool's answer may be older than the frame, in s.
var lags = []float64{0, 0.03, 0.1, 0.25}

// follow looks for the field that follows the answers best.
func (b *bench) follow(a *answer) (follower, bool) {
	t, v := a.t, a.v
	if most := 1200; len(t) > most { // as many as tell all there is to know
		thinT, thinV := make([]float64, most), make([]float64, most)
		for i := range thinT {
			k := i * (len(t) - 1) / (most - 1)
			thinT[i], thinV[i] = t[k], v[k]
		}
		t, v = thinT, thinV
	}
	least := 6
	if a.what == Coolant {
		least = 4
	}
	if distinct(v) < least {
		return follower{}, false
	}
	var all []follower
	for _, s := range b.plain {
		if len(s.t) >= 20 && s.moves() {
			all = append(all, s.follow(t, v, a.step)...)
		}
	}
	if len(all) == 0 {
		return follower{}, false
	}
	best := all[0].rms
	for _, f := range all {
		best = min(best, f.rms)
	}
	pool := all[:0]
	for _, f := range all {
		if f.rms <= 1.07*best+0.02*a.step {
			pool = append(pool, f)
		}
	}
	// Of the lengths that follow as well, the one that the bits themselves suggest.
	// And one whose factor makers use: a shaft that turns with the wheels follows the speed
	// as well.
	type ranked struct {
		unusual bool
		off, n  int
	}
	ranks := map[field]ranked{}
	for _, f := range pool {
		_, is := usual(f.factor, 0.01)
		ranks[f.field] = ranked{!is, abs(f.field.n - f.field.s.grow(f.field.big, f.field.hi, 20)), -f.field.n}
	}
	slices.SortStableFunc(pool, func(x, y follower) int {
		rx, ry := ranks[x.field], ranks[y.field]
		switch {
		case rx.unusual != ry.unusual:
			return compareBools(rx.unusual, ry.unusual)
		case rx.off != ry.off:
			return rx.off - ry.off
		case x.field.s.period != y.field.s.period:
			if x.field.s.period < y.field.s.period {
				return -1
			}
			return 1
		}
		return rx.n - ry.n
	})
	f := pool[0]
	f.pool = slices.Clone(pool)
	f.settle(t, v, a)
	return f, true
}

func abs(x int) int { return max(x, -x) }

// follow returns the fields of a stream that follow answers.
func (s *stream) follow(t, v []float64, step float64) []follower {
	last := s.t[len(s.t)-1] + max(1, 2*s.period)
	var T, V []float64
	for i := range t {
		if t[i] >= s.t[0] && t[i] <= last {
			T, V = append(T, t[i]), append(V, v[i])
		}
	}
	if len(T) < 6 || spread(V) == 0 {
		return nil
	}
	indices := make([][]int, len(lags))
	for k, lag := range lags {
		indices[k] = make([]int, len(T))
		for i := range T {
			indices[k][i] = s.at(T[i] - lag)
		}
	}
	var list []follower
	x := make([]float64, len(T))
	for _, big := range []bool{false, true} {
		for hi := range 64 {
			if flip := s.flip[bit(big, hi)]; flip <= 0 || flip >= 0.45 {
				continue
			}
			best, lag, signed := 0.0, 0, false
			for k := range lags {
				for _, sign := range []bool{false, true} {
					f := field{s: s, big: big, hi: hi, n: min(8, 64-hi), signed: sign}
					for i, at := range indices[k] {
						x[i] = float64(f.raw(at))
					}
					if c := math.Abs(correlation(x, V)); c > best {
						best, lag, signed = c, k, sign
					}
				}
			}
			if best < 0.9 {
				continue
			}
			for n := 3; n < 25 && hi+n <= 64 && bit(big, hi+n-1) < 8*s.size; n++ {
				if big && n <= 8 && bit(true, hi)/8 == bit(true, hi+n-1)/8 {
					continue
				}
				f := field{s: s, big: big, hi: hi, n: n, signed: signed}
				if found, ok := f.line(indices[lag], V, step); ok {
					found.lag = lags[lag]
					list = append(list, found)
				}
			}
		}
	}
	return list
}

// line fits a straight line through the answers over the field's values at samples.
func (f *field) line(at []int, answers []float64, step float64) (follower, bool) {
	none, ones := f.none(), f.ones()
	x, y := make([]float64, 0, len(at)), make([]float64, 0, len(at))
	for i, k := range at {
		if v := f.raw(k); !none || v != ones {
			x, y = append(x, float64(v)), append(y, answers[i])
		}
	}
	if len(x) < 5 || distinct(x) < 4 {
		return follower{}, false
	}
	factor, offset, ok := robustLine(x, y)
	if !ok || factor <= 0 {
		return follower{}, false
	}
	left := make([]float64, len(x))
	for i := range x {
		left[i] = math.Abs(y[i] - factor*x[i] - offset)
	}
	tame := 5 * max(1.4826*median(left), step)
	sum := 0.0
	for _, e := range left {
		sum += square(min(e, tame))
	}
	return follower{field: *f, factor: factor, offset: offset, rms: math.Sqrt(sum / float64(len(left))), count: len(x)}, true
}

// robustLine fits a straight line, leaving out what lies far from it.
func robustLine(x, y []float64) (slope, offset float64, ok bool) {
	use := make([]bool, len(x))
	for i := range use {
		use[i] = true
	}
	left := make([]float64, len(x))
	for range 4 {
		n, mx, my := 0.0, 0.0, 0.0
		for i := range x {
			if use[i] {
				n++
				mx += x[i]
				my += y[i]
			}
		}
		if n < 5 {
			return 0, 0, false
		}
		mx, my = mx/n, my/n
		var xx, xy float64
		for i := range x {
			if use[i] {
				xx += square(x[i] - mx)
				xy += (x[i] - mx) * (y[i] - my)
			}
		}
		if xx == 0 {
			return 0, 0, false
		}
		slope = xy / xx
		offset = my - slope*mx
		for i := range x {
			left[i] = math.Abs(y[i] - slope*x[i] - offset)
		}
		limit := 1.5 * max(3*median(left), 1e-9)
		for i := range use {
			use[i] = left[i] <= limit
		}
	}
	return slope, offset, true
}

// settle chooses sign, upper bits, factor and offset as a maker would have chosen them.
func (f *follower) settle(t, v []float64, a *answer) {
	s := f.field.s
	at := make([]int, len(t))
	for i := range t {
		at[i] = s.at(t[i] - f.lag)
	}
	if f.field.signed { // unsigned, where that explains the answers as well
		plain := f.field
		plain.signed = false
		lowest := int64(math.MaxInt64)
		for i := range s.w {
			lowest = min(lowest, f.field.raw(i))
		}
		x, signed := make([]float64, len(at)), make([]float64, len(at))
		for i, k := range at {
			x[i], signed[i] = float64(plain.raw(k)), float64(f.field.raw(k))
		}
		slope, offset, ok := robustLine(x, v)
		missed := func(x []float64, slope, offset float64) float64 {
			sum := 0.0
			for i := range x {
				sum += min(math.Abs(v[i]-slope*x[i]-offset), 5*a.step)
			}
			return sum / float64(len(x))
		}
		better := ok && slope > 0 && missed(x, slope, offset) <= 1.2*missed(signed, f.factor, f.offset)+0.1*a.step
		if lowest >= 0 || better {
			f.field = plain
			if ok && slope > 0 {
				f.factor, f.offset = slope, offset
			}
		}
	}
	for _, g := range f.field.taller()[1:] { // where they bring the offset near a usual one
		offset := f.offset - f.factor*float64(g.raw(0)-f.field.raw(0))
		if near := a.nearUsual(offset); near < 0.3*a.nearUsual(f.offset) && offset > -110 {
			f.field, f.offset = g, offset
		}
	}
	x := f.field.all()
	relative := f.rms / max(spread(x)*f.factor, 1e-9)
	f.measured = f.factor
	factor, ok := usual(f.factor, 0.02+0.5*relative)
	f.usual = ok
	if !ok {
		factor = digits(f.factor, 4)
	}
	middle := median(x)
	offset := middle*(f.factor-factor) + f.offset
	f.factor, f.offset = factor, digits(offset, 4)
	f.missed = math.Inf(1)
	for _, o := range usualOffsets {
		f.missed = min(f.missed, math.Abs(offset-o))
	}
	for _, o := range usualOffsets {
		if math.Abs(offset-o) <= max(2*a.step, 2.5*f.rms) {
			f.offset = o
			break
		}
	}
}

// nearUsual is how far an offset is from one that fields of the quantity have; what is rarer
// must be nearer.
func (a *answer) nearUsual(offset float64) float64 {
	near := math.Abs(offset)
	switch a.what {
	case Coolant:
		near = min(near, math.Abs(offset+40))
	case VehicleSpeed:
		near = min(near, 2*math.Abs(offset+40), 4*math.Abs(offset+100))
	default:
		near = min(near, 2*math.Abs(offset+40))
	}
	return near
}

// digits rounds to significant digits.
func digits(x float64, n int) float64 {
	if x == 0 {
		return 0
	}
	scale := math.Pow(10, float64(n-1)-math.Floor(math.Log10(math.Abs(x))))
	return math.Round(x*scale) / scale
}
