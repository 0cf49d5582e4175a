package decode_test

import (
	"compress/gzip"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
	"lull/decode/candump"
)

// The log was recorded in an idling truck. It is from css-electronics/api-examples (MIT) and
// not part of this repository. The figures are those of an independent, simple decoder.
func TestRecordedTruckDecodesAsByAnIndependentDecoder(t *testing.T) {
	folder := os.Getenv("LULL_SHARED_DATA")
	if folder == "" {
		folder = filepath.Join("..", "..", "shared", "data")
	}
	file, err := os.Open(filepath.Join(folder, "truck08_idle_127s.log.gz"))
	if err != nil {
		t.Skipf("SKIPPED: the recorded logs are not here; LULL_SHARED_DATA may name their folder: %v", err)
	}
	defer file.Close()
	unpacked, err := gzip.NewReader(file)
	if err != nil {
		t.Fatal(err)
	}

	scale := func(factor string) decode.Scale {
		s, err := decode.ParseScale(factor, "")
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	m := &decode.Map{
		Entries: []decode.Entry{
			{Kind: decode.ByPGN, PGN: 61444, Source: -1, Signals: []int{0}},
			{Kind: decode.ByPGN, PGN: 65271, Source: -1, Signals: []int{1}},
		},
		Signals: []decode.Signal{
			{Name: "engine_speed", Entry: 0, Start: 24, Length: 16, Scale: scale("0.125")},
			{Name: "battery", Entry: 1, Start: 32, Length: 16, Scale: scale("0.05")},
		},
	}
	type figures struct {
		Samples  int
		Min, Max float64
	}
	got := [2]figures{{Min: math.Inf(1), Max: math.Inf(-1)}, {Min: math.Inf(1), Max: math.Inf(-1)}}
	decoder := decode.NewDecoder(m)
	reader := candump.NewReader(unpacked, candump.Options{})
	for reader.Scan() {
		for _, s := range decoder.Decode(reader.Frame()) {
			if f := &got[s.Signal]; s.Valid {
				f.Samples, f.Min, f.Max = f.Samples+1, min(f.Min, s.Value), max(f.Max, s.Value)
			}
		}
	}
	if err := reader.Err(); err != nil {
		t.Fatal(err)
	}
	got[1].Samples = 0 // there is no figure for their number
	want := [2]figures{{Samples: 12719, Min: 646.5, Max: 653.75}, {Min: 13.2, Max: 13.5}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("engine speed and battery voltage (-want +got):\n%s", diff)
	}
}
