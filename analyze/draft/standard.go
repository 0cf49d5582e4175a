package draft

import (
	"math"
	"slices"

	"lull/decode"
	"lull/decode/standard"
)

// parameter is a parameter of SAE J1939-71 that a map can use, and what a vehicle can have
// of it. Its place and scaling are those of package standard.
type parameter struct {
	pgn       uint32
	spn       int
	what      Quantity
	low, high float64 // what a vehicle can have
	most      float64 // the greatest valid value, of numbers
	standard.Parameter
}

var parameters = func() []parameter {
	list := []parameter{
		{pgn: 61444, spn: 190, what: EngineSpeed, low: 0, high: 6000, most: 8031.875},
		{pgn: 61444, spn: 1675, what: StarterCommand, low: 0, high: 12},
		{pgn: 65265, spn: 84, what: VehicleSpeed, low: 0, high: 160, most: 250.996},
		{pgn: 65265, spn: 597, what: Brake, low: 0, high: 1},
		{pgn: 65271, spn: 168, what: BatteryVoltage, low: 5, high: 34, most: 3212.75},
		{pgn: 65271, spn: 114, what: BatteryCurrent, low: -125, high: 125, most: 125},
		{pgn: 65262, spn: 110, what: Coolant, low: -40, high: 130, most: 210},
		{pgn: 65266, spn: 183, what: FuelRate, low: 0, high: 200, most: 3212.75},
	}
	for i := range list {
		p := &list[i]
		group, _ := standard.FindGroup(p.pgn)
		at := slices.IndexFunc(group.Parameters, func(x standard.Parameter) bool { return x.SPN == p.spn })
		p.Parameter = group.Parameters[at] // a test drafts each
	}
	return list
}()

// standard takes what SAE J1939 says, where the bus follows it: most identifiers have 29
// bits, and at least three known groups are there. A car's own 29-bit identifier can look
// like group 61444.
func (b *bench) standard() {
	groups := map[uint32][]*stream{}
	var bus standard.J1939
	extended, known := 0, 0
	for _, s := range b.plain {
		if s.page >= 0 || s.from > 0 {
			continue
		}
		bus.Add(s.id, s.extended, s.size)
		if s.extended {
			extended++
			pgn := decode.PGN(s.id)
			if g, ok := standard.FindGroup(pgn); ok && g.Core && groups[pgn] == nil {
				known++
			}
			groups[pgn] = append(groups[pgn], s)
		}
	}
	follows := bus.Follows()
	if !follows && !(groups[61444] != nil && known >= 2 && 10*extended >= 8*len(b.plain)) {
		return
	}
	b.named = follows
	for i := range parameters {
		b.parameter(&parameters[i], groups[parameters[i].pgn], follows)
	}
}

// said is what one sender says of a parameter.
type said struct {
	s      *stream
	values series // NaN where it is not available
	valid  []float64
	varies bool
}

func (b *bench) parameter(p *parameter, senders []*stream, follows bool) {
	best, found := said{}, false
	for _, s := range senders {
		if x, ok := p.of(s); ok && (!found || x.better(&best)) {
			best, found = x, true
		}
	}
	if !found || (p.Bits < 8 || p.what == BatteryCurrent) && !best.varies || p.what == BatteryVoltage && median(best.valid) < 5 {
		return
	}
	mode := p.what == StarterCommand // its states
	if mode && (!follows || !cranksRarely(best.valid)) {
		return
	}
	f := field{s: best.s, hi: 64 - p.Start - p.Bits, n: p.Bits}
	s := b.proposal(p.what, f, p.Factor, p.Offset)
	s.Entry = decode.Entry{Kind: decode.ByPGN, PGN: p.pgn, Source: int(best.s.id & 0xFF), Address: -1}
	for _, other := range senders {
		if other.id&0xFF == best.s.id&0xFF && other.bus != best.s.bus {
			s.Entry.Bus = best.s.bus
		}
	}
	s.FieldIs, s.ScaleIs = Likely, Likely
	if best.varies && follows && !mode {
		s.FieldIs, s.ScaleIs = Sure, Sure
	}
	switch {
	case mode: // 1 and 2: the starter is active; 14 and 15: error, not available
		s.Field.HasActive, s.Field.Active = true, []int64{1, 2}
		s.Field.Invalid = []int64{14, 15}
	case p.what == Brake:
		s.Field.Invalid = []int64{2, 3}
	default:
		s.Field.HasMax, s.Field.Max = true, p.most
	}
	s.Evidence = []Evidence{Standard{p.pgn, slices.Min(best.valid), slices.Max(best.valid)}}
	b.put(s, f, best.values)
}

// of reads the parameter from one sender's frames. It is false if that is not what they hold.
func (p *parameter) of(s *stream) (said, bool) {
	if s.size < (p.Start+p.Bits+7)/8 {
		return said{}, false
	}
	// Values from 0xFB.. on are no values but say so (SAE J1939-71).
	limit := int64(1)<<p.Bits - 2
	if p.Bits == 16 {
		limit = 0xFB00
	} else if p.Bits == 8 {
		limit = 0xFB
	}
	f := field{s: s, hi: 64 - p.Start - p.Bits, n: p.Bits}
	x := said{s: s}
	x.values.t = s.t
	x.values.v = make([]float64, len(s.t))
	sane := 0
	for i := range s.w {
		raw := f.raw(i)
		if raw >= limit {
			x.values.v[i] = math.NaN()
			continue
		}
		y := float64(raw)*p.Factor + p.Offset
		x.values.v[i] = y
		x.valid = append(x.valid, y)
		if y >= p.low && y <= p.high {
			sane++
		}
	}
	if share(len(x.valid), len(s.w)) < 0.05 || share(sane, len(x.valid)) <= 0.98 {
		return said{}, false
	}
	x.varies = slices.Min(x.valid) != slices.Max(x.valid)
	if p.what == EngineSpeed && x.varies {
		jumps := 0
		for i := 1; i < len(x.valid); i++ {
			if math.Abs(x.valid[i]-x.valid[i-1]) > 400 {
				jumps++
			}
		}
		if share(jumps, len(x.valid)-1) > 0.05 {
			return said{}, false
		}
	}
	return x, true
}

// better reports whether a sender is to be preferred: one whose values vary, the engine
// control (address 0), the one that says most.
func (x *said) better(y *said) bool {
	first := func(s *stream) bool { return s.id&0xFF == 0 }
	switch {
	case x.varies != y.varies:
		return x.varies
	case first(x.s) != first(y.s):
		return first(x.s)
	}
	return len(x.s.t) > len(y.s.t)
}

// cranksRarely reports whether a starter's states are those of a drive: active at times,
// and not for long.
func cranksRarely(states []float64) bool {
	active, changes := 0, 0
	on := func(v float64) bool { return v == 1 || v == 2 }
	for i, v := range states {
		if on(v) {
			active++
		}
		if i > 0 && on(v) != on(states[i-1]) {
			changes++
		}
	}
	return active > 0 && share(active, len(states)) <= 0.2 && changes <= 60
}
