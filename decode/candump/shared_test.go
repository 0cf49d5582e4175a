package candump

import (
	"compress/gzip"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
)

// The recorded logs are from open data sets that are not part of this repository:
// css-electronics/api-examples (MIT) and canboat/canboat (Apache-2.0). The figures are those of
// an independent decoder.
func TestRecordedLogsHaveTheFramesThatAnIndependentDecoderFound(t *testing.T) {
	folder := os.Getenv("LULL_SHARED_DATA")
	if folder == "" {
		folder = filepath.Join("..", "..", "..", "shared", "data")
	}
	for _, c := range []struct {
		name   string
		frames int
		span   float64 // s
		stamps decode.Stamps
	}{
		{"obd01_many_engine_stops_while_driving.log.gz", 15298, 1909.607, decode.StampsAbsolute},
		{"obd02_cold_start_40min.log.gz", 33710, 2389.282, decode.StampsAbsolute},
		{"truck08_idle_127s.log.gz", 45571, 127.195, decode.StampsAbsolute},
		{"marine_engine_start_no_time_console.txt.gz", 853, 0, decode.StampsNone},
	} {
		t.Run(c.name, func(t *testing.T) {
			file, err := os.Open(filepath.Join(folder, c.name))
			if err != nil {
				t.Skipf("SKIPPED: the recorded logs are not here; LULL_SHARED_DATA may name their folder: %v", err)
			}
			defer file.Close()
			packed, err := gzip.NewReader(file)
			if err != nil {
				t.Fatal(err)
			}
			frames, info, err := readAll(t, packed, Options{})
			if err != nil || len(frames) != c.frames || info.Stamps != c.stamps || info.Lines != int64(c.frames) {
				t.Fatalf("error %v, %d frames, info %+v", err, len(frames), info)
			}
			if span := float64(frames[len(frames)-1].Time-frames[0].Time) / 1e9; math.Abs(span-c.span) > 0.0005 {
				t.Errorf("span %.6f s, want %.3f s", span, c.span)
			}
			if diff := cmp.Diff([]string{"can0"}, info.Interfaces); diff != "" {
				t.Errorf("interfaces (-want +got):\n%s", diff)
			}
		})
	}
}
