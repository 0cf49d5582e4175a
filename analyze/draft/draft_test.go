package draft_test

import (
	"fmt"
	"path"
	"strings"
	"testing"

	"lull/analyze/draft"
	"lull/analyze/scenario"
	"lull/decode"
	"lull/decode/sigmap"
)

// drafted drafts a map of a demonstration drive.
func drafted(d scenario.Drive) *draft.Draft {
	b := draft.New()
	b.NextLog()
	for f := range d.Frames {
		b.Push(f)
	}
	return b.Draft(draft.Options{})
}

// place is where a signal is and how it is scaled, as one text.
func place(e *decode.Entry, s *decode.Signal, factor, offset float64) string {
	return fmt.Sprintf("%s %d+%d big=%v signed=%v x%.6g%+.6g", e.Label(), s.Start, s.Length, s.BigEndian, s.Signed, factor, offset)
}

// What a draft calls sure is what the map of the drive says, to the bit and to the factor;
// so are engine speed and voltage wherever the drive shows starts.
func TestTheDemonstrationIsDraftedAsItsMapsSay(t *testing.T) {
	for _, d := range scenario.Drives() {
		t.Run(strings.TrimSuffix(path.Base(d.Name), ".log"), func(t *testing.T) {
			m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
			if err != nil {
				t.Fatal(err)
			}
			result := drafted(d)
			for _, role := range []decode.Role{decode.EngineSpeed, decode.VehicleSpeed, decode.BatteryVoltage, decode.StarterCommand, decode.StopCommand} {
				want := m.RoleSignal(role)
				if want == nil {
					continue
				}
				var got *draft.Signal
				for i := range result.Signals {
					if result.Signals[i].What.Role() == role {
						got = &result.Signals[i]
					}
				}
				must := role == decode.EngineSpeed || role == decode.BatteryVoltage
				if got == nil {
					if must {
						t.Errorf("%s was not found", role)
					}
					continue
				}
				wantedScale := want.Scale
				factor := wantedScale.Factor * convert(want)
				same := got.Field.Start == want.Start && got.Field.BigEndian == want.BigEndian && (got.Field.Length == want.Length || role == decode.BatteryVoltage)
				if !same && (must || got.FieldIs == draft.Sure) {
					t.Errorf("%s: %s, want %s", role, place(&got.Entry, &got.Field, got.Factor, got.Offset), place(&m.Entries[want.Entry], want, factor, wantedScale.Offset))
				}
				if same && got.HasFactor() && got.Factor != factor {
					t.Errorf("%s: factor %v, want %v", role, got.Factor, factor)
				}
			}
		})
	}
}

// convert is by how much a signal's unit is more than the role's.
func convert(s *decode.Signal) float64 {
	if s.Unit == "mV" {
		return 0.001
	}
	return 1
}

// Nothing can be said of a log in which nothing happens; it is said so, and not guessed.
func TestWithoutAnythingToSeeNothingIsFound(t *testing.T) {
	b := draft.New()
	b.NextLog()
	for i := range 5000 {
		b.Push(&decode.Frame{Time: int64(i) * 10_000_000, Bus: "can0", ID: 0x100, Len: 8, Data: [64]byte{1, 2, 3, 4, 5, byte(i), byte(i * 7), 8}})
	}
	result := b.Draft(draft.Options{})
	if len(result.Signals) > 0 {
		t.Errorf("found %+v in a counter", result.Signals)
	}
	for _, m := range result.Missing {
		if m.What == draft.StopCommand && m.Why != draft.NoEngine {
			t.Errorf("the stop command is missing as of %v, want as there is no engine speed", m.Why)
		}
	}
}

// Any frames are taken: no frame at all, one frame, lengths from 0 to 64, times that run back.
func TestAnyFramesAreTaken(t *testing.T) {
	for n := range 60 {
		b := draft.New()
		for i := range n {
			if i%20 == 0 {
				b.NextLog()
			}
			f := &decode.Frame{Time: int64(i%7) * 1e7 * int64(1+n%3), Bus: "can" + fmt.Sprint(i%2), ID: uint32(i % 5), Len: uint8((i * 11) % 65)}
			for k := range f.Data {
				f.Data[k] = byte(i * k)
			}
			b.Push(f)
		}
		b.Draft(draft.Options{})
	}
}
