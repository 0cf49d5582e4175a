package document

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"lull/cmd/lull/internal/sample"
	"lull/decode"
)

// sampleSeries writes a few samples of every kind.
func sampleSeries(t *testing.T, m *decode.Map, ndjson bool, digits int) string {
	t.Helper()
	var b bytes.Buffer
	w := NewSampleWriter(&b, m, ndjson)
	w.Begin("drive, one.log")
	for _, s := range []struct {
		sample decode.Sample
		t      int64
	}{
		{decode.Sample{Signal: 0, Value: 9.6, Raw: 192, Valid: true}, 0},
		{decode.Sample{Signal: 1, Value: 1, Raw: 1, Valid: true}, 1_234_567_890},
		{decode.Sample{Signal: 1, Value: 7, Raw: 7, Valid: true}, 1_234_567_899},
		{decode.Sample{Signal: 2}, -20_000_000},
		{decode.Sample{Signal: 3, Value: 1e-7, Raw: 1, Valid: true}, 12 * sample.Second},
		{decode.Sample{Signal: 4, Value: 1e300, Raw: 1, Valid: true}, 12 * sample.Second},
	} {
		if err := w.Write(&s.sample, "can0", s.t, digits); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestSamplesAreWrittenAsPromised(t *testing.T) {
	m := sample.Entries()
	sample.Golden(t, *update, "samples.csv", []byte(sampleSeries(t, m, false, 6)))
	sample.Golden(t, *update, "samples9.csv", []byte(sampleSeries(t, m, false, 9)))
	sample.Golden(t, *update, "samples.ndjson", []byte(sampleSeries(t, m, true, 6)))
	sample.Golden(t, *update, "samples_no_times.csv", []byte(sampleSeries(t, m, false, 0)))
	untimed := sampleSeries(t, m, true, 0)
	for _, line := range strings.Split(strings.TrimSpace(untimed), "\n") {
		var row map[string]any
		if err := json.Unmarshal([]byte(line), &row); err != nil {
			t.Fatal(err)
		}
		if at, there := row["t"]; !there || at != nil || len(row) != 8 {
			t.Errorf("without times: %s", line)
		}
	}
}
