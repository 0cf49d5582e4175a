package document

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"io"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze/census"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
)

func TestFramesJSONKeepsItsSchema(t *testing.T) {
	schema := schemaOf(t, "frames")
	for _, f := range []*words.Frames{sample.Frames(), sample.NamedFrames(), sample.FramesAgainst(), {}, {Logs: []words.FramesLog{{Result: &census.Result{}}}}} {
		var b bytes.Buffer
		if err := WriteFramesJSON(&b, f); err != nil {
			t.Fatal(err)
		}
		valid(t, schema, b.Bytes())
	}
}

// CSV has the keys of JSON's identifiers in their order.
func TestFramesCSVHasTheKeysOfJSON(t *testing.T) {
	j, err := json.Marshal(idJSON{})
	if err != nil {
		t.Fatal(err)
	}
	at := -1
	for _, key := range idKeys {
		next := bytes.Index(j, []byte(`"`+key+`"`))
		if next <= at {
			t.Errorf("%s is not behind the key before it in %s", key, j)
		}
		at = next
	}
	var b bytes.Buffer
	if err := WriteFramesCSV(&b, sample.Frames()); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(append([]string{"log"}, idKeys...), rows[0]); diff != "" || len(rows) != 5 {
		t.Errorf("%d rows, titles (-want +got):\n%s", len(rows), diff)
	}
}

// A load needs a bit rate and a span; of several interfaces the busiest counts.
func TestLoadIsTheBusiestInterfaces(t *testing.T) {
	f := sample.Frames()
	j := framesLog(f, f.Logs[0])
	if j.Load == nil || *j.Load != 1.2 || *j.Interfaces[0].Load != 0.3 {
		t.Errorf("%+v", j)
	}
	if j := framesLog(f, f.Logs[1]); j.Load != nil || j.Interfaces[0].Load != nil {
		t.Errorf("a load without times: %+v", j)
	}
	f.Bitrate = 0
	if j := framesLog(f, f.Logs[0]); j.Load != nil {
		t.Errorf("a load without a bit rate: %v", *j.Load)
	}
}

func TestFramesAreAsTheGoldenFilesShow(t *testing.T) {
	for file, write := range map[string]func(*bytes.Buffer) error{
		"frames.json":         func(b *bytes.Buffer) error { return WriteFramesJSON(b, sample.Frames()) },
		"frames.csv":          func(b *bytes.Buffer) error { return WriteFramesCSV(b, sample.Frames()) },
		"frames_named.json":   func(b *bytes.Buffer) error { return WriteFramesJSON(b, sample.NamedFrames()) },
		"frames_named.csv":    func(b *bytes.Buffer) error { return WriteFramesCSV(b, sample.NamedFrames()) },
		"frames_bytes.csv":    func(b *bytes.Buffer) error { return WriteBytesCSV(b, sample.NamedFrames()) },
		"frames_against.csv":  func(b *bytes.Buffer) error { return WriteDifferencesCSV(b, sample.FramesAgainst()) },
		"frames_against.json": func(b *bytes.Buffer) error { return WriteFramesJSON(b, only(sample.FramesAgainst())) },
		"frames_one.csv":      func(b *bytes.Buffer) error { return WriteFramesCSV(b, sample.ManyFrames()) },
	} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		sample.Golden(t, *update, file, b.Bytes())
	}
}

// only restricts what is shown to one identifier, on the first side.
func only(f *words.Frames) *words.Frames {
	f.Only = []words.WantedID{{ID: 0x1A0}}
	f.Against = nil
	return f
}

func TestFramesWritersPassFaultsOn(t *testing.T) {
	for name, err := range map[string]error{"bytes": WriteBytesCSV(full{}, sample.NamedFrames()), "against": WriteDifferencesCSV(full{}, sample.FramesAgainst()), "json": WriteFramesJSON(full{}, sample.Frames()), "csv": WriteFramesCSV(full{}, sample.Frames())} {
		if !errors.Is(err, io.ErrShortWrite) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
