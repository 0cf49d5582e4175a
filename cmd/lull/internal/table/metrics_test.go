package table

import (
	"bytes"
	"testing"

	"lull/cmd/lull/internal/sample"
)

func TestMetricsAreExplainedAsTheGoldenFilesShow(t *testing.T) {
	for name, write := range map[string]func(*bytes.Buffer) error{
		"metrics80.txt":  func(b *bytes.Buffer) error { return WriteMetrics(b, sample.Metrics(), Style{Width: 80}) },
		"metrics160.txt": func(b *bytes.Buffer) error { return WriteMetrics(b, sample.Metrics(), Style{Width: 160}) },
		"metrics.md":     func(b *bytes.Buffer) error { return WriteMetricsMarkdown(b, sample.Metrics()) },
	} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		sample.Golden(t, *update, name, b.Bytes())
	}
}
