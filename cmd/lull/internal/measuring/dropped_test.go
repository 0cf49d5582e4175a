package measuring

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"lull/analyze/scenario"
	"lull/cmd/lull/internal/sample/driven"
	"lull/decode/sigmap"
	"lull/pkg/source"
)

// drop measures files as the page does, each under its own name.
func drop(t *testing.T, ctx context.Context, mapText []byte, files map[string]string) (names, remarks []string, parts []float64, err error) {
	t.Helper()
	m, err := sigmap.Parse("map.yaml", mapText)
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	var logs []source.Input
	for name, text := range files {
		path := filepath.Join(folder, name+".dropped")
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		logs = append(logs, source.Input{Path: path, Name: name})
	}
	side, remarks, err := Drop(ctx, "", PageRoom, m, logs, func(part float64) { parts = append(parts, part) })
	if err != nil && side != nil {
		t.Error("a result beside an error")
	}
	if side != nil {
		for _, l := range side.Logs {
			names = append(names, l.Name)
		}
		if len(side.Traces) != len(side.Logs) {
			t.Errorf("%d logs have traces of %d", len(side.Logs), len(side.Traces))
		}
	}
	for _, text := range append(slices.Clone(remarks), errorText(err)) {
		if strings.Contains(text, folder) || strings.Contains(text, "lull: ") {
			t.Errorf("said on the page: %s", text)
		}
	}
	return names, remarks, parts, err
}

func errorText(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

// What is dropped is measured as lull report measures it: in the order of starts, the
// readable logs though others are not, with what is to be said of each.
func TestADropIsMeasuredAsAReportIs(t *testing.T) {
	_, d := driven.Drive(t, "kept-running.log")
	var drive bytes.Buffer
	if err := d.WriteLog(&drive); err != nil {
		t.Fatal(err)
	}
	log := drive.String()
	yaml := scenario.Map(d.Map)
	earlier := "(1000000000.000000) can0 1A0#0000000000000000\n(1000000000.010000) can0 1A0#0000000000000000\n"
	var packed bytes.Buffer
	w := gzip.NewWriter(&packed)
	w.Write(drive.Bytes())
	w.Close()
	rows := []struct {
		name  string
		yaml  []byte
		files map[string]string
		names []string
		says  string // in a remark or the error
		fails bool
	}{
		{"a log", yaml, map[string]string{"a": log}, []string{"a"}, "", false},
		{"packed, cut", yaml, map[string]string{"a.gz": packed.String()[:packed.Len()/2]}, []string{"a.gz"}, "a.gz:29571: the gzip data is damaged or cut off", false},
		{"in the order of starts", yaml, map[string]string{"b": log, "a": earlier}, []string{"a", "b"}, "a: in your map but not in this log: ", false},
		{"one of two is no log", yaml, map[string]string{"a": log, "b": "\x89PNG\r\n\x1a\n\x00"}, []string{"a"}, "b: this is not a CAN log that lull can read: it begins like a PNG picture; ", false},
		{"with lines that are no frames", yaml, map[string]string{"a": log + "nonsense\n"}, []string{"a"}, "a:", false},
		{"empty", yaml, map[string]string{"a": ""}, nil, "a: holds no frame", true},
		{"nothing in it", yaml, map[string]string{"a": "\x00\x01\x02\n"}, nil, "its only line is not a CAN frame", true},
		{"no times", yaml, map[string]string{"a": "can0 1A0 [1] 00\n"}, nil, "no time stamps", true},
		{"another bus", []byte(strings.ReplaceAll(string(yaml), "can0", "can7")), map[string]string{"a": log}, nil, "no frame of the interface can7", true},
		{"packed by what is not read", yaml, map[string]string{"a": "PK\x03\x04aaaaaaaaaaaaaaa"}, nil, "a: a zip archive or a workbook, not a CAN log; if a log is packed in it, unpack it first", true},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			names, remarks, parts, err := drop(t, context.Background(), row.yaml, row.files)
			if !slices.Equal(names, row.names) || (err != nil) != row.fails {
				t.Errorf("measured %q, want %q: %v", names, row.names, err)
			}
			said := strings.Join(append(remarks, errorText(err)), "\n")
			if !strings.Contains(said, row.says) || row.says == "" && said != "" && said != "\n" {
				t.Errorf("said %q, want %q", said, row.says)
			}
			if misfits := errors.As(err, new(*Misfit)); misfits != (row.name == "another bus") {
				t.Errorf("the map is to blame: %v, of %v", misfits, err)
			}
			if !slices.IsSorted(parts) {
				t.Errorf("it falls: %v", parts)
			}
			if len(row.names) == len(row.files) && (len(parts) == 0 || parts[len(parts)-1] != 1) {
				t.Errorf("it does not come to its end: %v", parts)
			}
		})
	}
}

// Measuring ends with its context, however little of a log is wanted.
func TestMeasuringEndsWithItsContext(t *testing.T) {
	_, d := driven.Drive(t, "kept-running.log")
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	names, _, parts, err := drop(t, ctx, scenario.Map(d.Map), map[string]string{"a": strings.Repeat("(1.000000) can0 7FF#00\n", 10000)})
	if err != context.Canceled || names != nil || len(parts) > 0 {
		t.Errorf("%v, measured %q, told %v", err, names, parts)
	}
}
