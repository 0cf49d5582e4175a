package foreign

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"go.einride.tech/can/pkg/dbc"

	"lull/decode"
)

// The published check value of CRC-8 SAE J1850, and the plain ones.
func TestChecksumsAreWhatTheyAreCalled(t *testing.T) {
	data := append([]byte("123456789")[:7:7], 0)
	m := &message{check: checkCRC, checkAt: 9}
	if got := m.sum([]byte("123456789")); got != 0x4B {
		t.Errorf("CRC-8 SAE J1850 of 123456789 is %#x, published 0x4b", got)
	}
	m = &message{check: checkXOR, checkAt: 7}
	if got := m.sum(data); got != '1'^'2'^'3'^'4'^'5'^'6'^'7' {
		t.Errorf("XOR %#x", got)
	}
	m = &message{check: checkSum, checkAt: 7, checkSecret: 5}
	if got := m.sum(data); got != byte((7*'1'+21+5)%256) {
		t.Errorf("sum %#x", got)
	}
}

// Counters count and checksums hold in every frame of a log that lost none.
func TestCountersCountAndChecksumsHold(t *testing.T) {
	counters, checks := 0, 0
	for seed := range int64(40) {
		u := NewUnknown(seed, Plain)
		if u.layout.loss > 0 {
			continue
		}
		type sent struct {
			m    *message
			last int64
			n    int
		}
		by := map[string]*sent{}
		for _, s := range u.layout.senders {
			m := s.messages[0]
			by[fmt.Sprint(m.id, m.extended)] = &sent{m: m}
		}
		n := 0
		u.Play(func(f *decode.Frame) bool {
			x := by[fmt.Sprint(f.ID, f.Flags&decode.Extended != 0)]
			if x.m.check != noCheck && x.m.sum(f.Payload()) != f.Data[x.m.checkAt] {
				t.Errorf("seed %d: %X: checksum", seed, f.ID)
			}
			if x.m.counter != nil {
				count := get(f.Data[:], x.m.counter)
				if x.n > 0 && count != (x.last+x.m.counterStep)&(1<<len(x.m.counter)-1) {
					t.Errorf("seed %d: %X: %d after %d", seed, f.ID, count, x.last)
				}
				x.last = count
			}
			x.n++
			n++
			return n < 20_000 && !t.Failed()
		})
		for _, x := range by {
			if x.m.check != noCheck {
				checks++
			}
			if x.m.counter != nil {
				counters++
			}
		}
		if counters > 30 && checks > 15 {
			return
		}
	}
	t.Errorf("only %d counters and %d checksums", counters, checks)
}

// A database says of the bus what is true, in the words of an independent parser.
func TestTheDatabaseDescribesTheBus(t *testing.T) {
	for seed := range int64(12) {
		u := NewUnknown(seed, Database)
		p := dbc.NewParser("bus.dbc", u.DBC)
		if err := p.Parse(); err != nil {
			t.Fatalf("seed %d: %v\n%s", seed, err, u.DBC)
		}
		signals := map[string]string{}
		for _, def := range p.Defs() {
			m, ok := def.(*dbc.MessageDef)
			if !ok {
				continue
			}
			for _, s := range m.Signals {
				place := fmt.Sprint(m.MessageID.ToCAN(), m.MessageID.IsExtended(), s.StartBit, s.Size, s.IsBigEndian, s.IsSigned, s.Factor, s.Offset)
				if !strings.HasPrefix(string(m.Name), "Spare") {
					signals[place] = string(s.Name)
				}
			}
		}
		for _, p := range u.layout.places() {
			f := p.field
			if p.message.module == "other" {
				continue
			}
			place := fmt.Sprint(p.message.id, p.message.extended, f.start, f.length, f.big, f.signed, f.each, f.zero)
			if signals[place] == "" {
				t.Errorf("seed %d: %s of %X is not in the database", seed, f.name, p.message.id)
			}
		}
	}
}

// Marks begin and end a little after what was shown, and name what is on the bus.
func TestMarksFollowTheHand(t *testing.T) {
	u := NewUnknown(3, Marks)
	times := map[string]int{}
	for _, line := range strings.Split(strings.TrimSpace(string(u.Marks)), "\n")[1:] {
		w := strings.Fields(line)
		times[w[0]]++
		if len(w) != 3 && len(w) != 5 {
			t.Errorf("line %q", line)
		}
	}
	if times["brake"] != 3 || times["turn_left"] != 1 || times["turn_right"] != 1 || times["steering"] != 1 || times["vehicle_speed"] < 1 {
		t.Errorf("%v\n%s", times, u.Marks)
	}
	shown := u.Truth.Shown[0]
	w := strings.Fields(strings.Split(string(u.Marks), "\n")[1])
	from, _ := strconv.ParseFloat(w[1], 64)
	if late := from - float64(shown.From-u.Truth.Start)/1e9; late < 0.09 || late > 0.61 {
		t.Errorf("the first mark is %.2f s late", late)
	}
}

// What is drawn differs from car to car.
func TestCarsDiffer(t *testing.T) {
	seen := map[string]bool{}
	orders, lengths := map[bool]int{}, map[int]int{}
	for seed := range int64(30) {
		u := NewUnknown(seed, Plain)
		p, ok := u.layout.best("engine_speed")
		if !ok {
			t.Errorf("seed %d: no engine speed", seed)
			continue
		}
		seen[fmt.Sprint(p.message.id, p.field.start, p.field.length, p.field.factor)] = true
		orders[p.field.big]++
		lengths[p.field.length]++
	}
	if len(seen) < 30 || orders[true] < 5 || orders[false] < 5 || len(lengths) < 3 {
		t.Errorf("%d places, orders %v, lengths %v", len(seen), orders, lengths)
	}
	if !slices.Contains(Roles(), "brake") {
		t.Error("no brake")
	}
}
