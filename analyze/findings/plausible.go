package findings

import (
	"cmp"
	"math"
	"slices"

	"lull/analyze"
	"lull/analyze/segment"
	"lull/analyze/series"
	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/stats"
)

// quantity is what values of a role can be. The voltages are those that ISO 16750-2
// has equipment of a 12 V and a 24 V system live through, from memory: 3 V and 6 V
// while the engine is cranked, 24 V and 36 V by a jump start and a failing
// regulator, with some room. The others are common practice, no source.
type quantity struct {
	low, high float64
	// usualLow to usualHigh is where the median of what is not near 0 lies, nearer to
	// usual as a rule: it tells which of several explanations is likely.
	usualLow, usual, usualHigh float64
	moves                      bool // it cannot stay the same where the engine both ran and rested
	// Between two samples it changes by no more than step and rate, in its unit a second,
	// together allow. 0: not judged.
	step, rate float64
}

func quantityOf(role decode.Role, systemVoltage float64) (quantity, bool) {
	switch role {
	case decode.EngineSpeed:
		// An engine that starts gains some 10000 rpm in a second; a brake takes 10 m/s2,
		// a wheel that locks is slower by more.
		return quantity{0, 8000, 500, 900, 3000, true, 300, 20000}, true
	case decode.VehicleSpeed:
		return quantity{-50, 300, 3, 40, 130, false, 4, 200}, true
	case decode.BatteryVoltage, decode.ModuleSupply:
		return quantity{systemVoltage / 4, systemVoltage * 13 / 6, systemVoltage * 0.95, systemVoltage * 1.17, systemVoltage * 1.3, true, 0, 0}, true
	}
	return quantity{}, false
}

const (
	// implausibleShare is the share of samples beyond what the quantity can be from
	// which on the map is doubted; fewer are disturbed frames.
	implausibleShare = 0.01
	// leastSamples are needed to doubt it.
	leastSamples = 20
	// keptFrames is how many frames of roles are kept to try other readings on.
	keptFrames = 10_000
	// commandedRun is for how long in all the engine has to run on against its stop
	// command, and restedAlone for how long to rest without it, with the key on, for
	// the command to be doubted.
	commandedRun = 5 * bounds.Second
	restedAlone  = 3 * bounds.Second
	// A stop command that comes on flickers times, and flickersARest times for each rest of
	// the engine, is none: what is called off again is a stop in two or three.
	flickers, flickersARest = 10, 4
	// coarser is how much rougher than another reading that of the turned order may be and
	// still be the likelier: the slip that is made most often.
	coarser = 3
	// roughest is the mean step of a quantity against all that it moves through.
	roughest = 0.05
)

// plausible watches whether the roles' values can be what the map says.
type plausible struct {
	Roles  [decode.RoleCount]Tested
	Frames []decode.Frame // the first ones whose entry has a role
	// The stop command against the engine speed: ns for which the engine ran or
	// rested while it was on or off, but for those with the key off.
	onRun, onRest, offRest int64
	last                   int64
	rises, rests           int                    // of the stop command while the engine ran, and of the engine
	rested                 bool                   // the engine rests, as far as counted
	ranKeyOn, ranKeyOff    int64                  // ns for which the engine ran, by the ignition
	Idle                   idle                   // of the engine while the vehicle stood
	On                     [decode.RoleCount]bool // the switch was on once
	longest                []int                  // payload of each of the map's entries, in bytes; 0: never seen
}

// Tested counts a role's samples.
type Tested struct {
	seen, beyond int64
	min, max     float64
	judged       bool // the quantity has limits
	quantity

	slip   analyze.Slip // as of likelySlip, by so many frames
	slipOf int

	last           float64 // NaN: none yet
	lastT          int64
	lastBeyond     int64   // 1: the last value is beyond what the quantity can be
	changes, jumps int64   // where the quantity has a step
	from, to       float64 // the widest jump
}

// NewPlausible returns what a role's values are held against, by the map's system
// voltage.
func NewPlausible(m *decode.Map) plausible {
	p := plausible{longest: make([]int, len(m.Entries))}
	for role := range p.Roles {
		k := &p.Roles[role]
		k.quantity, k.judged = quantityOf(decode.Role(role), m.Settings.SystemVoltage)
		k.min, k.max, k.last = math.Inf(1), math.Inf(-1), math.NaN()
	}
	return p
}

// longestStep is the longest time between two samples of which a jump is told.
const longestStep = bounds.Second

// Add takes a value in the role's unit, of the time t in ns.
func (k *Tested) Add(t int64, v float64) {
	k.seen++
	if v != k.last {
		k.change(t-k.lastT, v)
	}
	k.beyond += k.lastBeyond
	k.lastT = t
}

// change takes a value that is not the last one, took ns after it.
func (k *Tested) change(took int64, v float64) {
	if v < k.min {
		k.min = v
	}
	if v > k.max {
		k.max = v
	}
	k.lastBeyond = 0
	if k.judged && (v < k.low || v > k.high) {
		k.lastBeyond = 1
	}
	if k.step > 0 && k.seen > 1 && took >= 0 && took <= longestStep {
		k.changes++
		by := math.Abs(v - k.last)
		if by > k.step+k.rate*bounds.Seconds(took) {
			k.jumps++
			if by > math.Abs(k.to-k.from) {
				k.from, k.to = k.last, v
			}
		}
	}
	k.last = v
}

// Sees takes a frame that these entries of the map name.
func (p *plausible) Sees(f *decode.Frame, entries []int) {
	for _, e := range entries {
		if int(f.Len) > p.longest[e] {
			p.longest[e] = int(f.Len)
		}
	}
}

// Wants reports whether more frames are to be kept.
func (p *plausible) Wants() bool { return len(p.Frames) < keptFrames }

// Keep keeps a frame to try other readings on.
func (p *plausible) Keep(m *decode.Map, f *decode.Frame, entries []int) {
	for _, e := range entries {
		if m.Entries[e].Polled() {
			continue
		}
		for _, signal := range m.Entries[e].Signals {
			if m.Signals[signal].Role != decode.NoRole {
				p.Frames = append(p.Frames, *f)
				return
			}
		}
	}
}

// LongestCommand is how long, in ns, one sample of the engine speed may stand for.
const LongestCommand = bounds.Second / 2

// Command takes the time of a sample of the engine speed.
func (p *plausible) Command(now int64, stop, ignition *series.Switched, e *segment.Engine) {
	if e.Rest.Side < 0 && !p.rested {
		p.rests++
	}
	if e.Rest.Side < 0 || e.Run.Side > 0 {
		p.rested = e.Rest.Side < 0
	}
	took := min(now-p.last, LongestCommand)
	p.last = now
	if took <= 0 {
		return
	}
	if ignition.Seen && !ignition.On {
		if e.Run.Side > 0 {
			p.ranKeyOff += took
		}
		return
	}
	if ignition.Seen && e.Run.Side > 0 {
		p.ranKeyOn += took
	}
	if !stop.Seen {
		return
	}
	switch {
	case stop.On && e.Run.Side > 0:
		p.onRun += took
	case stop.On && e.Rest.Side < 0:
		p.onRest += took
	case !stop.On && e.Rest.Side < 0:
		p.offRest += took
	}
}

// Commands takes the times of samples of the engine speed from one to another, none of
// which is far from the next, while nothing that Command reads changes.
func (p *plausible) Commands(first, last int64, stop, ignition *series.Switched, e *segment.Engine) {
	p.Command(first, stop, ignition, e)
	for p.last < last {
		p.Command(min(last, p.last+LongestCommand), stop, ignition, e)
	}
}

// plausibleFindings tells of roles whose values cannot be what the map says.
func (r *Finder) plausibleFindings(list *Findings) {
	for role := decode.NoRole + 1; role < decode.RoleCount; role++ {
		if signal := r.M.RoleSignal(role); signal != nil {
			if about, ok := r.implausible(role, signal); ok {
				list.add(analyze.CodeImplausible, analyze.Attention, 0, []string{signal.Name}, about)
			}
		}
	}
	if about, ok := r.implausibleCommand(); ok {
		list.add(analyze.CodeImplausible, analyze.Attention, 0, []string{about.Signal}, about)
	}
}

// implausible says of a role's values that they cannot be what the map says.
func (r *Finder) implausible(role decode.Role, signal *decode.Signal) (about analyze.ImplausibleSignal, ok bool) {
	k := &r.Plausible.Roles[role]
	if k.seen < leastSamples {
		return about, false
	}
	about = analyze.ImplausibleSignal{Signal: signal.Name, Role: role, SystemVoltage: r.M.Settings.SystemVoltage}
	switch {
	case k.judged && float64(k.beyond) > implausibleShare*float64(k.seen):
		about.Reads = k.max
		if k.low-k.min > k.max-k.high {
			about.Reads = k.min
		}
	case k.judged && k.moves && k.min == k.max && r.ranAndRested(role):
		about.Reads, about.Throughout = k.min, true
	default:
		return about, false
	}
	about.Slip = r.likelySlip(role, signal)
	return about, true
}

// Commanded takes that the stop command came on.
func (p *plausible) Commanded(e *segment.Engine) {
	if e.Run.Side > 0 {
		p.rises++
	}
}

// implausibleCommand says of the stop command that the engine does not follow it: it runs
// on against it and rests without it, or the command comes on again and again and the engine
// runs on.
func (r *Finder) implausibleCommand() (about analyze.ImplausibleCommand, ok bool) {
	p, signal := &r.Plausible, r.M.RoleSignal(decode.StopCommand)
	if signal == nil {
		return about, false
	}
	about = analyze.ImplausibleCommand{Signal: signal.Name, RanWhileOn: p.onRun, RestedOff: p.offRest}
	if p.rises >= flickers && p.rises > flickersARest*(p.rests+1) {
		about.Rises, about.Rests = p.rises, p.rests
		return about, true
	}
	turned := p.onRun >= max(commandedRun, 2*p.onRest) && p.offRest >= max(restedAlone, 4*p.onRest)
	unlike := p.onRun >= max(2*commandedRun, p.onRest) && p.offRest >= max(restedAlone, p.onRest/3)
	return about, turned || unlike
}

// ranAndRested reports whether the engine was surely seen in both states, or, of the
// engine speed itself, should have been.
func (r *Finder) ranAndRested(role decode.Role) bool {
	if role == decode.EngineSpeed {
		return r.Starter.Changed
	}
	speed := &r.Plausible.Roles[decode.EngineSpeed]
	return speed.min < r.M.Settings.RestSpeed && speed.max > r.M.Settings.RunningSpeed
}

// reading is another way to read a signal.
type reading struct {
	signal decode.Signal
	factor float64 // of the value but for its offset, after decoding
	slip   analyze.Slip
}

// neighbours are the readings that a slip in the map leads to: the other byte
// order, a wrong factor, a wrong start.
func neighbours(s *decode.Signal) []reading {
	var list []reading
	add := func(start int, bigEndian bool, factor float64) {
		if start < 0 {
			return
		}
		n := reading{signal: *s, factor: factor}
		n.signal.Start, n.signal.BigEndian = start, bigEndian
		if bigEndian != s.BigEndian {
			n.slip.Order = "little"
			if bigEndian {
				n.slip.Order = "big"
			}
		}
		if start != s.Start {
			n.slip.HasStart, n.slip.Start = true, start
		}
		if factor != 1 {
			n.slip.Factors = []float64{factor}
		}
		list = append(list, n)
	}
	end := s.Start/8*8 + 7 // a big-endian field begins with its highest bit
	if s.BigEndian {
		end = s.Start / 8 * 8
	}
	if s.Length > 1 {
		add(s.Start, !s.BigEndian, 1)
		add(end, !s.BigEndian, 1)
	}
	for _, k := range []float64{2, 4, 8, 10} {
		add(s.Start, s.BigEndian, 1/k)
		add(s.Start, s.BigEndian, k)
	}
	for d := 1; d <= 8; d++ {
		add(s.Start-d, s.BigEndian, 1)
		add(s.Start+d, s.BigEndian, 1)
	}
	return list
}

// likelySlip tries the neighbouring readings on the frames kept. Of those that fit
// it gives the smoothest, and of several as smooth the one nearest to what is
// usual; factors, which are all as smooth, it gives together.
func (r *Finder) likelySlip(role decode.Role, s *decode.Signal) analyze.Slip {
	k := &r.Plausible.Roles[role]
	if n := len(r.Plausible.Frames); k.slipOf != n { // it is asked for by findings and by trust, again and again
		k.slip, k.slipOf = r.findSlip(&k.quantity, s), n
	}
	return k.slip
}

func (r *Finder) findSlip(q *quantity, s *decode.Signal) analyze.Slip {
	type fit struct {
		reading
		fitness
	}
	var fits []fit
	for _, n := range neighbours(s) {
		if how, ok := q.fit(r.readings(n, s)); ok {
			fits = append(fits, fit{n, how})
		}
	}
	if len(fits) == 0 {
		return analyze.Slip{}
	}
	smoothest := slices.MinFunc(fits, func(a, b fit) int { return cmp.Compare(a.roughness, b.roughness) }).roughness
	// A field's high byte beside bits that hardly move is smoother than the field.
	turned := func(f fit) bool { return f.slip.Order != "" && f.roughness <= smoothest*coarser }
	if i := slices.IndexFunc(fits, turned); i >= 0 {
		fits[0], fits = fits[i], fits[:1]
		smoothest = fits[0].roughness
	}
	// So is a field that begins a bit late: it has lost its last bit, and is half of what it was.
	var factors []float64
	for _, f := range fits {
		if f.roughness <= smoothest*coarser {
			factors = append(factors, f.slip.Factors...)
		}
	}
	fits = slices.DeleteFunc(fits, func(f fit) bool { return f.roughness > smoothest*(1+1e-6) })
	best := slices.MinFunc(fits, func(a, b fit) int { return cmp.Compare(a.unusual, b.unusual) })
	best.slip.Low, best.slip.High = best.low, best.high
	switch {
	case len(factors) == 1 && best.slip.HasStart, len(factors) > 1:
		best.slip.Factors, best.slip.Low, best.slip.High = factors, 0, 0
	}
	return best.slip
}

// readings reads the kept frames anew, in the role's unit.
func (r *Finder) readings(n reading, s *decode.Signal) []float64 {
	entry := r.M.Entries[s.Entry]
	entry.Signals = []int{0}
	n.signal.Entry, n.signal.When = 0, nil
	m := &decode.Map{Entries: []decode.Entry{entry}, Signals: []decode.Signal{n.signal}, Settings: r.M.Settings}
	d := decode.NewDecoder(m)
	offset := s.Scale.Offset
	var values []float64
	for i := range r.Plausible.Frames {
		for _, sample := range d.Decode(&r.Plausible.Frames[i]) {
			v := s.ToRole.Apply((sample.Value-offset)*n.factor + offset)
			if sample.Valid && stats.Finite(v) {
				values = append(values, v)
			}
		}
	}
	return values
}

// fitness says how well values are a quantity: roughness is the mean step against
// all that they move through, unusual how far their median is from the usual one.
type fitness struct {
	low, high          float64
	roughness, unusual float64
}

// fit reports whether values may be the quantity: all within what it can be, the
// median of what is not near 0 where it usually lies, and going on from one to the
// next as a quantity of a car does.
func (q *quantity) fit(values []float64) (f fitness, ok bool) {
	if len(values) < leastSamples {
		return f, false
	}
	f.low, f.high = slices.Min(values), slices.Max(values)
	if f.low < q.low || f.high > q.high || f.low == f.high {
		return f, false
	}
	steps, above := 0.0, []float64(nil)
	for i, v := range values {
		if i > 0 {
			steps += math.Abs(v - values[i-1])
		}
		if v > q.usualLow/2 {
			above = append(above, v)
		}
	}
	f.roughness = steps / float64(len(values)-1) / (f.high - f.low)
	middle, ok := stats.Median(above)
	if !ok || f.roughness > roughest && f.high-f.low > (q.usualHigh-q.usualLow)/4 {
		return f, false
	}
	f.unusual = math.Abs(math.Log(middle / q.usual))
	return f, middle >= q.usualLow && middle <= q.usualHigh
}

// idle counts engine speeds above rest_speed in whole rpm, while the vehicle stood; what is
// beyond the last one counts as that.
type idle struct {
	counts [4096]uint32
	total  int
}

// Add takes a speed in rpm.
func (h *idle) Add(v float64) {
	h.counts[int(min(v, float64(len(h.counts)-1)))]++
	h.total++
}

// median is 0 where there are too few.
func (h *idle) median() float64 {
	if h.total < leastIdle {
		return 0
	}
	below := 0
	for rpm, n := range h.counts {
		if below += int(n); 2*below >= h.total {
			return float64(rpm)
		}
	}
	return 0
}
