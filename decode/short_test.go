package decode

import (
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// randomEntry returns an entry with up to four fields anywhere in nine bytes, now and then with
// further rules.
func randomEntry(rng *rand.Rand, id uint32) testEntry {
	e := testEntry{entry: Entry{Kind: ByID, ID: id}}
	for range 1 + rng.IntN(4) {
		s := Signal{Length: 1 + rng.IntN(16), Signed: rng.IntN(3) == 0, BigEndian: rng.IntN(2) == 0, Scale: scale([]string{"1", "0.25", "-0.1"}[rng.IntN(3)], "-40")}
		s.Start = rng.IntN(8*8 - s.Length)
		if s.BigEndian {
			s.Start = rng.IntN(6)*8 + rng.IntN(8)
		}
		switch rng.IntN(12) {
		case 0:
			s.Invalid = []int64{1}
		case 1:
			s.Start += 8
		case 2:
			s.HasMin, s.Min, s.HasMax, s.Max = true, -39, true, 200
		}
		e.signals = append(e.signals, s)
	}
	return e
}

func TestAStreamOfFramesDecodesAsEachFrameAlone(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	shared := 0
	for round := range 400 {
		m := mapOf(randomEntry(rng, 0x100), randomEntry(rng, 0x101), randomEntry(rng, []uint32{0x101, 0x102}[rng.IntN(2)]), randomEntry(rng, 0x103))
		m.Entries[3].Extended = rng.IntN(2) == 0
		m.Entries[0].Bus = []string{"", "can1"}[rng.IntN(2)]
		stream := NewDecoder(m)
		payload := make([]byte, 9)
		for n := range 60 {
			if rng.IntN(2) == 0 {
				payload[rng.IntN(len(payload))] = byte(rng.Uint32())
			}
			size := 8
			if rng.IntN(8) == 0 {
				size = rng.IntN(10)
			}
			f := dataFrame(0x100+rng.Uint32N(4), 0, payload[:size]...)
			f.Time += int64(n)
			if f.ID == 0x103 && m.Entries[3].Extended {
				f.Flags = Extended
			}
			f.Bus = []string{"can0", "can1"}[rng.IntN(2)]
			alone := NewDecoder(m)
			want := append([]Sample{}, alone.Decode(f)...)
			got := append([]Sample{}, stream.Decode(f)...)
			if diff := cmp.Diff(want, got); diff != "" {
				t.Fatalf("round %d, frame %d: alone (-) and in a stream (+):\n%s", round, n, diff)
			}
			if diff := cmp.Diff(alone.Matched(), stream.Matched(), cmpopts.EquateEmpty()); diff != "" {
				t.Fatalf("round %d, frame %d: entries matched alone (-) and in a stream (+):\n%s", round, n, diff)
			}
			if len(stream.Matched()) > 1 {
				shared++
			}
		}
	}
	if shared < 1000 {
		t.Errorf("%d frames of two entries: too few to tell", shared)
	}
}

// The long way is the one that is held against independent libraries, field by field.
func TestTheShortWayReadsAFieldAsTheLongOneDoes(t *testing.T) {
	rng := rand.New(rand.NewPCG(23, 24))
	plain, negative := 0, 0
	for round := range 400 {
		m := mapOf(randomEntry(rng, 0x100))
		for range 20 {
			payload := make([]byte, 8)
			for i := range payload {
				payload[i] = byte(rng.Uint32())
			}
			f := dataFrame(0x100, 0, payload...)
			for _, s := range NewDecoder(m).Decode(f) {
				field := compileField(m, s.Signal, false)
				raw, value, valid := field.read(f.Payload())
				if s.Raw != raw || s.Value != value || s.Valid != valid {
					t.Fatalf("round %d, % x: %+v of %+v, field by field %d, %g, %t", round, payload, s, m.Signals[s.Signal], raw, value, valid)
				}
				if field.plain {
					plain++
				}
				if raw < 0 {
					negative++
				}
			}
		}
	}
	if plain < 10_000 || negative < 1000 {
		t.Errorf("%d plain fields and %d negative values: too few to tell", plain, negative)
	}
}
