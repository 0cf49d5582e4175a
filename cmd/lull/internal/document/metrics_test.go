package document

import (
	"bytes"
	"testing"

	"lull/cmd/lull/internal/sample"
)

func TestMetricsAreListedAsTheGoldenFileShows(t *testing.T) {
	var b bytes.Buffer
	if err := WriteMetricsJSON(&b, sample.Metrics()); err != nil {
		t.Fatal(err)
	}
	sample.Golden(t, *update, "metrics.json", b.Bytes())
}
