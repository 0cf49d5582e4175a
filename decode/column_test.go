package decode

import (
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestColumnsReadWhatTheDecoderGives(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 32))
	read, refused, coded := 0, 0, 0
	for round := range 1000 {
		m := mapOf(randomEntry(rng, 0x100))
		if rng.IntN(3) == 0 {
			m.Entries[0].Kind, m.Entries[0].PGN, m.Entries[0].Source = ByPGN, 0xFEF0, -1
		}
		d := NewDecoder(m)
		columns, ok := d.Columns(0)
		if !ok {
			refused++
			continue
		}
		for range 20 {
			payload := make([]byte, 8)
			for i := range payload {
				payload[i] = byte(rng.Uint32()) | byte(0xFF*rng.IntN(2))
			}
			f := dataFrame(0x100, 0, payload...)
			if m.Entries[0].Kind == ByPGN {
				f.ID, f.Flags = 0xFEF0<<8, Extended
			}
			word := f.Word()
			got := d.Decode(f)
			if len(got) != len(columns) {
				t.Fatalf("round %d: %d samples, %d columns", round, len(got), len(columns))
			}
			for i := range columns {
				c, s := &columns[i], got[i]
				raw := c.Raw(word)
				if least, most := c.Range(); raw < least || raw > most {
					t.Fatalf("round %d: %d is beyond %d..%d of %+v", round, raw, least, most, m.Signals[s.Signal])
				}
				if !s.Valid {
					coded++
					continue
				}
				want := Sample{Time: f.Time, Signal: c.Signal, Raw: raw, Value: c.Value(raw), Valid: true}
				if diff := cmp.Diff(want, s); diff != "" {
					t.Fatalf("round %d: column (-), decoder (+) of %+v:\n%s", round, m.Signals[s.Signal], diff)
				}
				read++
				if other := c.Raw(word ^ ^c.Bits()); other != raw {
					t.Fatalf("round %d: bits that are not the signal's change it from %d to %d", round, raw, other)
				}
				if other := c.Raw(word ^ c.Bits()); other == raw {
					t.Fatalf("round %d: the signal's bits do not change it", round)
				}
			}
		}
	}
	if read < 10_000 || refused < 50 || coded < 500 {
		t.Errorf("%d values read, %d not valid, %d entries refused: too few to tell", read, coded, refused)
	}
}
