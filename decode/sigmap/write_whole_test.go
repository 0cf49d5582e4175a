package sigmap

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lull/decode"
)

// A signal with everything that a map can say of it is read back as it was.
func TestSignalsAreReadBackWhole(t *testing.T) {
	hostile := rapid.OneOf(rapid.StringN(1, 12, -1), rapid.SampledFrom([]string{"on", "OFF", "yes", "~", "null", "0x10", "1e5", "- a", "a: b", "#", "[", "<<", "\u0085", "\u2028", "\uFEFF", "\U0001F697", "e\u0301", `"`, `\`, "°C", "µ"}))
	rapid.Check(t, func(t *rapid.T) {
		want := drawField(t, "a "+strings.TrimSpace(strings.Map(oneLine, hostile.Draw(t, "name")))+".")
		want.Entry, want.Line = 0, 0
		if (want.Length == 32 || want.Length == 64) && rapid.Bool().Draw(t, "float") {
			want.Float, want.Signed = true, false
		}
		pick := func(what string) int64 {
			if want.Signed {
				return rapid.Int64Range(-1<<(want.Length-1), 1<<(want.Length-1)-1).Draw(t, what)
			}
			return int64(rapid.Uint64Range(0, 1<<want.Length-1).Draw(t, what))
		}
		want.Unit = strings.TrimSpace("u" + strings.Map(oneLine, hostile.Draw(t, "unit")))
		if rapid.Bool().Draw(t, "range") {
			want.HasMin, want.HasMax = true, true
			want.Min = rapid.Float64().Draw(t, "min")
			want.Max = max(want.Min, rapid.Float64().Draw(t, "max"))
		}
		if rapid.Bool().Draw(t, "invalid") {
			want.Invalid = []int64{pick("invalid")}
		}
		if !want.Float && rapid.Bool().Draw(t, "labels") {
			want.Labels = []decode.Label{{Raw: pick("raw"), Text: "l" + strings.Map(oneLine, hostile.Draw(t, "label")) + "."}}
		}
		text := SignalText{Signal: want, Comments: []string{hostile.Draw(t, "comment")}}
		text.Factor, text.Offset = Decimal(rapid.Float64Range(1e-12, 1e20).Draw(t, "factor")), Decimal(rapid.Float64().Filter(func(x float64) bool { return x < 1e50 && x > -1e50 }).Draw(t, "offset"))
		speed := SignalText{Signal: decode.Signal{Name: "speed", Length: 16, Unit: "rpm", Role: decode.EngineSpeed}}
		whole := Text{Vehicle: "Tallowmere", Comments: []string{hostile.Draw(t, "comment")}, Frames: []FrameText{
			{Entry: decode.Entry{ID: 5, Source: -1, Address: -1, Module: "m" + strings.Map(oneLine, hostile.Draw(t, "module")) + "."}, Signals: []SignalText{text}, Comments: []string{hostile.Draw(t, "comment")}},
			{Entry: decode.Entry{ID: 6, Source: -1, Address: -1}, Signals: []SignalText{speed}},
			{Entry: decode.Entry{ID: 7, Source: -1, Address: -1}}, // watched alone
		}, Inhibits: []RequestText{{Name: "too fast", Signal: "speed", Is: "5", Out: true}}}
		var b strings.Builder
		if err := Write(&b, &whole); err != nil {
			t.Fatal(err)
		}
		m, err := Parse("map.yaml", []byte(b.String()))
		if err != nil {
			t.Fatalf("%v\n%s", err, b.String())
		}
		if want.Scale, err = decode.ParseScale(text.Factor, text.Offset); err != nil {
			t.Fatal(err)
		}
		got := m.Signals[0]
		got.Line = 0
		if diff := cmp.Diff(want, got, cmp.AllowUnexported(decode.Scale{})); diff != "" {
			t.Fatalf("(-want +got):\n%s\n%s", diff, b.String())
		}
		if len(m.Entries) != 3 || m.Entries[0].Module != whole.Frames[0].Entry.Module {
			t.Fatalf("%+v of\n%s", m.Entries, b.String())
		}
	})
}

// oneLine leaves out what a name must not have.
func oneLine(r rune) rune {
	if allowed(r) != r || r == '\t' || r == '\n' || r == '\r' || r == '\uFFFD' {
		return 'x'
	}
	return r
}

func TestConditionsOfStatesAndOfMovementAreWritten(t *testing.T) {
	var b strings.Builder
	text := Text{Frames: []FrameText{{Entry: decode.Entry{ID: 6, Source: -1, Address: -1}, Signals: []SignalText{
		{Signal: decode.Signal{Name: "speed", Length: 16, Unit: "rpm", Role: decode.EngineSpeed}},
		{Signal: decode.Signal{Name: "belt", Start: 16, Length: 1, Labels: []decode.Label{{Raw: 0, Text: "open"}}}},
	}}}, Inhibits: []RequestText{{Name: "belt open", Signal: "belt", Is: "open"}}, Requests: []RequestText{{Name: "it turns", Signal: "speed", Moves: "15"}}}
	if err := Write(&b, &text); err != nil {
		t.Fatal(err)
	}
	m, err := Parse("map.yaml", []byte(b.String()))
	if err != nil || len(m.Inhibits) != 1 || fmt.Sprint(m.Inhibits[0].Expr.Raws) != "[0]" {
		t.Fatalf("%v of\n%s", err, b.String())
	}
	if len(m.Requests) != 1 || m.Requests[0].Expr.Op != decode.OpMoves || m.Requests[0].Expr.A != 15 {
		t.Fatalf("%+v of\n%s", m.Requests, b.String())
	}
}
