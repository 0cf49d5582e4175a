package draft

import (
	"math"
	"testing"
)

// keyed is a drive of 60 s: the key comes on at 1 s, the engine is started at 5 s, stopped by
// the car from 20 to 25 s, and by the key at 50 s. The bits, by what they are:
const (
	keyBit     = iota
	runningBit // the engine runs
	numberBit  // the upper end of a number that has no value without the key
	besideBit  // and the bit beside it
	alwaysBit  // comes on once and stays on
	_
	_
	_
	belowBit    // another number's upper end,
	constantBit // with a bit below that is 1 all the time
	variesBit   // and one that changes
)

func keyed() *bench {
	var speed series
	s := &stream{size: 2, page: -1}
	for i := range 6000 {
		at := float64(i) / 100
		v := 0.0
		switch {
		case at >= 5 && at < 20, at >= 25 && at < 50:
			v = 800
		case at >= 20 && at < 25, at >= 50:
			v = max(0, 800-3000*math.Mod(at, 10))
		}
		speed.t, speed.v = append(speed.t, at), append(speed.v, v)
		key, running := at >= 1 && at < 50, v == 800
		w := uint64(0)
		for bit, is := range []bool{key, running, !key, !key || i/700%2 == 1, at >= 2, false, false, false, !key, true, !key || i/300%2 == 0} {
			if is {
				w |= 1 << bit
			}
		}
		s.t, s.w = append(s.t, at), append(s.w, w)
	}
	s.prepare()
	b := &bench{plain: []*stream{s}, streams: []*stream{s}, draft: &Draft{}, drive: newDrive(speed), taken: map[spot]bool{}, found: map[Quantity]series{}, cap: Sure}
	return b
}

// The key is what goes off first and the engine after it, and not when the car stops the
// engine by itself; what modules send while they have no values is no key.
func TestTheKeyIsKnownByWhatItStops(t *testing.T) {
	b := keyed()
	list := b.ignitionBits()
	if len(list) == 0 || list[0].bit != keyBit || list[0].inverted || list[0].score != 1 {
		t.Fatalf("found %+v, want bit %d", list, keyBit)
	}
	for _, c := range list[1:] {
		if c.score == 1 {
			t.Errorf("bit %d, inverted %v, is taken for the key as well", c.bit, c.inverted)
		}
	}
	b.propose(Ignition)
	if s := b.draft.Signal(Ignition); s == nil || s.FieldIs != Likely {
		t.Errorf("the key is %+v, want likely", s)
	}
}

// A stop that the stop command asked for is not the key's: what falls with it is no key.
func TestAStopOnCommandIsNotTheKeys(t *testing.T) {
	b := keyed()
	b.behaved = map[Quantity][]candidate{StopCommand: {{aSwitch: aSwitch{s: b.plain[0], bit: runningBit}, inverted: true}}}
	b.draft.Signals = []Signal{{What: StopCommand}}
	for _, c := range b.ignitionBits() {
		if c.score == 1 {
			t.Errorf("bit %d goes off with a stop on command and is taken for the key", c.bit)
		}
	}
}
