package sigmap

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"lull/decode"
)

func TestWhatIsWrittenIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		free := rapid.StringMatching(`[ -~äöüßé%°"'\\:{}\[\],#&*!|>@-]{0,20}`)
		text := Text{Vehicle: strings.TrimSpace(free.Draw(t, "vehicle")), Notes: strings.TrimSpace(free.Draw(t, "notes")),
			Comments: []string{free.Draw(t, "comment")}, Tail: []string{free.Draw(t, "tail")}}
		n := rapid.IntRange(1, 4).Draw(t, "frames")
		names := 0
		var wanted []decode.Signal
		var entries []decode.Entry
		for i := range n {
			kind := rapid.IntRange(0, 3).Draw(t, "kind")
			if i == 0 {
				kind = 0
			}
			e := decode.Entry{Kind: decode.Kind(kind), Source: -1, Address: -1}
			switch e.Kind {
			case decode.ByID:
				e.Extended = rapid.Bool().Draw(t, "extended")
				e.ID = uint32(0x100 + i)
			case decode.ByPGN:
				e.PGN = uint32(61440 + i)
				e.Source = rapid.IntRange(-1, 255).Draw(t, "source")
			case decode.ByOBD:
				e.Mode, e.PID, e.Response = 1, uint8(0x0C+i), 0x7E8
			case decode.ByDID:
				e.DID, e.Response = uint16(0xF400+i), 0x18DAF110
				e.ResponseExtended = true
			}
			e.OnChange = rapid.Bool().Draw(t, "on change") && !e.Polled()
			f := FrameText{Entry: e, Comments: []string{free.Draw(t, "comment")}}
			page := SignalText{Signal: decode.Signal{Name: fmt.Sprintf("page %d", names), Start: 0, Length: 8}}
			f.Signals = append(f.Signals, page)
			names++
			most := 3
			if e.Kind == decode.ByOBD {
				most = 0 // the standard says how long its answers are
			}
			for k := range rapid.IntRange(min(1, most), most).Draw(t, "signals") {
				s := decode.Signal{Name: fmt.Sprintf("on %d", names), Start: 8 + 16*k, Length: rapid.IntRange(2, 15).Draw(t, "length"), Signed: rapid.Bool().Draw(t, "signed")}
				names++
				s.Unit = strings.TrimSpace(free.Draw(t, "unit"))
				if rapid.Bool().Draw(t, "labels") {
					s.Labels = []decode.Label{{Raw: 0, Text: "off"}, {Raw: 1, Text: "a " + rapid.StringMatching(`[ -~]{0,9}x`).Draw(t, "label")}}
				}
				if rapid.Bool().Draw(t, "invalid") {
					s.Invalid = []int64{1, 0}
				}
				x := SignalText{Signal: s, Comments: []string{free.Draw(t, "comment")}, Factor: Decimal(rapid.Float64Range(0.0001, 4000).Draw(t, "factor")), Offset: Decimal(rapid.Float64Range(-100, 100).Draw(t, "offset"))}
				if rapid.Bool().Draw(t, "when") {
					x.When = []WhenText{{page.Signal.Name, []int64{3}}}
				}
				if s.Labels == nil || x.Factor == "1" {
					f.Signals = append(f.Signals, x)
				} else { // labels are of raw values
					x.Factor, x.Offset = "", ""
					f.Signals = append(f.Signals, x)
				}
				f.Signals = append(f.Signals, SignalText{Signal: decode.Signal{Name: "left out", Start: 8 + 16*k, Length: 3}, Out: true})
				wanted = append(wanted, s)
			}
			if i == 0 {
				// The role that a map must have.
				f.Signals = append(f.Signals, SignalText{Signal: decode.Signal{Name: "speed", Start: 57, Length: 7, Role: decode.EngineSpeed, Unit: "rpm"}})
			}
			entries = append(entries, e)
			text.Frames = append(text.Frames, f)
		}
		text.Requests = []RequestText{{Name: "asked", Signal: "speed", Is: "5", Out: true}}
		var b strings.Builder
		if err := Write(&b, &text); err != nil {
			t.Fatal(err)
		}
		m, err := Parse("map.yaml", []byte(b.String()))
		if err != nil {
			t.Fatalf("%v\n%s", err, b.String())
		}
		if m.Vehicle != text.Vehicle || m.Notes != text.Notes {
			t.Fatalf("vehicle %q, notes %q of\n%s", m.Vehicle, m.Notes, b.String())
		}
		for i, e := range entries {
			got := m.Entries[i]
			got.Line, got.Signals = 0, nil
			if fmt.Sprint(got) != fmt.Sprint(e) {
				t.Fatalf("entry %+v, want %+v of\n%s", got, e, b.String())
			}
		}
		byName := map[string]*decode.Signal{}
		for i := range m.Signals {
			byName[m.Signals[i].Name] = &m.Signals[i]
		}
		for _, w := range wanted {
			g := byName[w.Name]
			if g == nil || g.Start != w.Start || g.Length != w.Length || g.Signed != w.Signed || g.Unit != w.Unit || len(g.Labels) != len(w.Labels) || len(g.Invalid) != len(w.Invalid) {
				t.Fatalf("signal %+v, want %+v of\n%s", g, w, b.String())
			}
			for i, l := range w.Labels {
				if g.Labels[i] != l {
					t.Fatalf("label %+v, want %+v", g.Labels[i], l)
				}
			}
		}
	})
}
