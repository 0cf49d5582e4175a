package output

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/mattn/go-runewidth"

	"lull/analyze"
	"lull/analyze/census"
	"lull/decode"
)

// sampleFrames has two logs: one with everything, names that would steer a
// terminal or a spreadsheet included, and one without times.
func sampleFrames() *Frames {
	errorCounts := []census.ErrorCount{{Bus: "can0", Text: "bus error", Count: 12}, {Bus: "=1+1", Text: "sending timed out", Count: 1}}
	regular := census.ID{
		Bus: "can0", ID: 0x1A0, Count: 700, Lengths: []int{8}, HasPeriod: true, Period: 10e6, Jitter: 412_345, Regular: true,
		Changing: []int{3, 4, 16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31, 40, 47},
		Silences: []census.Silence{{Start: 3 * sec, Duration: sec}, {Start: 5 * sec, Duration: sec / 5}},
	}
	return &Frames{Bitrate: 500e3, Several: true, Logs: []FramesLog{
		{Name: "=a.log", Result: &census.Result{
			Info: decode.Info{Stamps: decode.StampsAbsolute, StampDigits: 6, Rejected: 2, Remarks: []decode.Remark{
				{Code: decode.RemarkRejectedLines, Count: 2, Line: 7, Text: "2 lines were rejected", Places: []decode.Place{{Line: 7, Column: 3, Why: "odd"}}},
				{Code: decode.RemarkTimeJump, Count: 1, Line: 9, Time: 1_772_442_901e9, HasTime: true, Text: "time runs back"},
			}},
			HasTime: true, Start: 1_772_442_900e9, Span: 10 * sec, Frames: 750, ErrorFrames: 13, RemoteFrames: 3,
			Errors: errorCounts, Gaps: []analyze.Gap{{Start: 7 * sec, End: 8 * sec}},
			Buses: []census.Bus{{Name: "can0", Frames: 710, Bits: 1_500_000}, {Name: "=1+1", Frames: 40, Bits: 6_000_000}},
			IDs: []census.ID{
				regular,
				{Bus: "can0", ID: 0x18FEF100, Extended: true, Remote: 3},
				{Bus: "=1+1", ID: 0x123, FD: true, Count: 2, Lengths: []int{12, 64}, HasPeriod: true, Period: 2.5e9, Changing: []int{511}},
			},
		}},
		{Name: "b\x1b[31m.log", Result: &census.Result{
			Info: decode.Info{Stamps: decode.StampsNone}, Frames: 4, Buses: []census.Bus{{Name: "can0", Frames: 4, Bits: 400}},
			IDs: []census.ID{{Bus: "can0", ID: 1, Count: 4, Lengths: []int{0}}},
		}},
	}}
}

func TestFramesGolden(t *testing.T) {
	many := sampleFrames()
	many.Logs = many.Logs[:1]
	many.Several = false
	log := many.Logs[0].Result
	for i := range int64(14) {
		log.Errors = append(log.Errors, census.ErrorCount{Bus: "can0", Text: "kind", Count: i})
		log.Gaps = append(log.Gaps, analyze.Gap{Start: i * 2 * sec, End: (i*2 + 1) * sec})
		log.IDs[0].Silences = append(log.IDs[0].Silences, census.Silence{Start: i * sec, Duration: sec / 4})
	}
	empty := &Frames{Logs: []FramesLog{{Name: "e.log", Result: &census.Result{}}}}
	for _, test := range []struct {
		file   string
		frames *Frames
		write  func(*Frames, *bytes.Buffer) error
	}{
		{"frames.json", sampleFrames(), func(f *Frames, b *bytes.Buffer) error { return f.WriteJSON(b) }},
		{"frames.csv", sampleFrames(), func(f *Frames, b *bytes.Buffer) error { return f.WriteCSV(b) }},
		{"frames_one.csv", many, func(f *Frames, b *bytes.Buffer) error { return f.WriteCSV(b) }},
		{"frames80.txt", sampleFrames(), func(f *Frames, b *bytes.Buffer) error { return f.WriteTable(b, Style{Width: 80}) }},
		{"frames160.txt", sampleFrames(), func(f *Frames, b *bytes.Buffer) error { return f.WriteTable(b, Style{Width: 160}) }},
		{"frames_colour80.txt", many, func(f *Frames, b *bytes.Buffer) error {
			return f.WriteTable(b, Style{Width: 80, Colour: true, Unicode: true})
		}},
		{"frames_empty80.txt", empty, func(f *Frames, b *bytes.Buffer) error { return f.WriteTable(b, Style{Width: 80}) }},
	} {
		var b bytes.Buffer
		if err := test.write(test.frames, &b); err != nil {
			t.Fatal(err)
		}
		golden(t, test.file, b.Bytes())
	}
}

func TestFramesTableKeepsItsWidth(t *testing.T) {
	for _, width := range []int{60, 80, 100, 160} {
		var b bytes.Buffer
		if err := sampleFrames().WriteTable(&b, Style{Width: width}); err != nil {
			t.Fatal(err)
		}
		for _, line := range strings.Split(b.String(), "\n") {
			if w := runewidth.StringWidth(line); w > width {
				t.Errorf("%d columns of %d: %s", w, width, line)
			}
		}
	}
}

func TestFramesJSONKeepsItsSchema(t *testing.T) {
	schema := schemaOf(t, "frames")
	for _, f := range []*Frames{sampleFrames(), {}, {Logs: []FramesLog{{Result: &census.Result{}}}}} {
		var b bytes.Buffer
		if err := f.WriteJSON(&b); err != nil {
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
	if err := sampleFrames().WriteCSV(&b); err != nil {
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

func TestBitsAreWrittenInRuns(t *testing.T) {
	bits := func(from, to int) []int {
		var list []int
		for i := from; i <= to; i++ {
			list = append(list, i)
		}
		return list
	}
	for _, test := range []struct {
		changing []int
		want     string
	}{
		{nil, "none"},
		{[]int{0}, "0:0"},
		{[]int{7, 8}, "0:7 1:0"},
		{[]int{0, 2, 3, 7}, "0:0,2-3,7"},
		{bits(8, 15), "1"},
		{bits(8, 31), "1-3"},
		{bits(0, 511), "0-63"},
		{slices.Concat(bits(0, 7), bits(12, 23)), "0 1:4-7 2"},
	} {
		if got := bitsText(&census.ID{Count: 1, Changing: test.changing}); got != test.want {
			t.Errorf("%v: %q, want %q", test.changing, got, test.want)
		}
	}
}

// A load needs a bit rate and a span; of several interfaces the busiest counts.
func TestLoadIsTheBusiestInterfaces(t *testing.T) {
	f := sampleFrames()
	j := f.log(f.Logs[0])
	if j.Load == nil || *j.Load != 1.2 || *j.Interfaces[0].Load != 0.3 {
		t.Errorf("%+v", j)
	}
	if j := f.log(f.Logs[1]); j.Load != nil || j.Interfaces[0].Load != nil {
		t.Errorf("a load without times: %+v", j)
	}
	f.Bitrate = 0
	if j := f.log(f.Logs[0]); j.Load != nil {
		t.Errorf("a load without a bit rate: %v", *j.Load)
	}
}

func TestFramesWritersPassFaultsOn(t *testing.T) {
	full := errors.New("full")
	w := failing{full}
	f := sampleFrames()
	for name, err := range map[string]error{"table": f.WriteTable(w, Style{Width: 80}), "json": f.WriteJSON(w), "csv": f.WriteCSV(w)} {
		if !errors.Is(err, full) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }
