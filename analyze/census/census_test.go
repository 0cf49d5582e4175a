package census

import (
	"compress/gzip"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"lull/analyze"
	"lull/decode"
	"lull/decode/candump"
	"lull/decode/wire"
)

const ms = int64(1e6)

// cyclic makes frames of one identifier at regular times, and of another beside
// it.
func cyclic(id uint32, from, to, period int64) []decode.Frame {
	var list []decode.Frame
	for t := from; t <= to; t += period {
		list = append(list, decode.Frame{Time: t, Bus: "can0", ID: id, Len: 1})
	}
	return list
}

// together joins lists of frames by their times.
func together(lists ...[]decode.Frame) []decode.Frame {
	var all []decode.Frame
	for {
		least := -1
		for i, l := range lists {
			if len(l) > 0 && (least < 0 || l[0].Time < lists[least][0].Time) {
				least = i
			}
		}
		if least < 0 {
			return all
		}
		all = append(all, lists[least][0])
		lists[least] = lists[least][1:]
	}
}

func count(o Options, frames []decode.Frame) *Result {
	c := New(o)
	for i := range frames {
		c.Add(&frames[i])
	}
	return c.Result(decode.Info{Stamps: decode.StampsAbsolute})
}

func TestCensusEqualsThePlainCount(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		frames := rapid.SliceOfN(rapid.Custom(drawFrame), 0, 120).Draw(t, "frames")
		time := int64(1.7e18)
		for i := range frames {
			time += frames[i].Time // so far the time since the frame before
			frames[i].Time = time
		}
		if diff := cmp.Diff(naive(frames), count(Options{}, frames).IDs, cmpopts.EquateEmpty(), cmpopts.EquateApprox(1e-15, 0)); diff != "" {
			t.Errorf("-plain +census:\n%s", diff)
		}
	})
}

func drawFrame(t *rapid.T) decode.Frame {
	f := decode.Frame{
		Time: rapid.OneOf(rapid.SampledFrom([]int64{0, 5 * ms, 10 * ms, 10 * ms, 10 * ms, 100 * ms, 700 * ms}), rapid.Int64Range(0, 300*ms)).Draw(t, "since"),
		Bus:  rapid.SampledFrom([]string{"can0", "can0", "can1"}).Draw(t, "bus"),
		ID:   rapid.SampledFrom([]uint32{1, 1, 1, 2}).Draw(t, "id"),
	}
	f.Flags = rapid.SampledFrom([]decode.Flags{0, 0, 0, 0, decode.Extended, decode.Remote, decode.Error, decode.FD}).Draw(t, "flags")
	f.Len = uint8(rapid.IntRange(0, 8).Draw(t, "length"))
	if f.Flags.Has(decode.FD) {
		f.Len = rapid.SampledFrom([]uint8{3, 12, 20, 64}).Draw(t, "FD length")
	}
	// What stands behind the payload must not count.
	copy(f.Data[:], rapid.SliceOfN(rapid.SampledFrom([]byte{0, 1, 0x80, 0xFF}), 64, 64).Draw(t, "data"))
	return f
}

func TestWhatIsCounted(t *testing.T) {
	frames := []decode.Frame{
		{Time: 5e9, Line: 1, Bus: "can0", ID: 0x1A0, Len: 2, Data: [64]byte{0x08, 0xFF}},
		{Time: 5e9 + 10*ms, Line: 2, Bus: "can0", ID: 0x1A0, Len: 2, Data: [64]byte{0x10, 0xFF}},
		{Time: 5e9 + 20*ms, Line: 3, Bus: "can1", ID: 0x1A0, Flags: decode.Remote, Len: 4},
		{Time: 5e9 + 30*ms, Line: 4, Bus: "can0", ID: 4, Flags: decode.Error, Len: 8, Data: [64]byte{0, 4}},
		{Time: 5e9 + 40*ms, Line: 5, Bus: "can0", ID: 0x40, Flags: decode.Error, Len: 8},
		{Time: 5e9 + 50*ms, Line: 6, Bus: "can0", ID: 0x40, Flags: decode.Error, Len: 8},
		{Time: 5e9 + 60*ms, Line: 7, Bus: "can0", ID: 0x1A0, Len: 1},
	}
	want := &Result{
		Info: decode.Info{Stamps: decode.StampsAbsolute}, HasTime: true, Start: 5e9, Span: 60 * ms,
		Frames: 7, ErrorFrames: 3, RemoteFrames: 1,
		Errors: []ErrorCount{
			{"can0", "bus off: the interface has left the bus", 2},
			{"can0", "controller: warning level of receive errors reached", 1},
		},
		Buses: []Bus{{Name: "can0", Frames: 6}, {Name: "can1", Frames: 1}},
		IDs: []ID{
			{Bus: "can0", ID: 0x1A0, Count: 3, Lengths: []int{1, 2}, HasPeriod: true, Period: 30e6, Jitter: 18e6, Changing: []int{3, 4}},
			{Bus: "can1", ID: 0x1A0, Remote: 1},
		},
	}
	if diff := cmp.Diff(want, count(Options{}, frames), cmpopts.EquateEmpty()); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	only := count(Options{Bus: "can1", Bits: true}, frames)
	want = &Result{
		Info: want.Info, HasTime: true, Start: 5e9, Span: 60 * ms, Frames: 1, RemoteFrames: 1,
		Buses: []Bus{{Name: "can1", Frames: 1, Bits: int64(wire.Bits(&frames[2]))}},
		IDs:   want.IDs[1:],
	}
	if diff := cmp.Diff(want, only, cmpopts.EquateEmpty()); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

func TestWithoutStampsThereAreNoTimes(t *testing.T) {
	c := New(Options{})
	for range 30 {
		c.Add(&decode.Frame{Bus: "can0", ID: 1})
	}
	want := &Result{
		Info: decode.Info{Stamps: decode.StampsNone}, Frames: 30, Buses: []Bus{{Name: "can0", Frames: 30}},
		IDs: []ID{{Bus: "can0", ID: 1, Count: 30, Lengths: []int{0}}},
	}
	if diff := cmp.Diff(want, c.Result(decode.Info{Stamps: decode.StampsNone}), cmpopts.EquateEmpty()); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

func TestASilenceIsLongerThanFivePeriodsAndNoGap(t *testing.T) {
	for _, test := range []struct {
		name   string
		frames []decode.Frame
		want   []Silence
		gaps   []analyze.Gap
	}{
		{
			"five periods are none", together(cyclic(1, 0, 2000*ms, 10*ms), cyclic(2, 0, 1000*ms, 50*ms), cyclic(2, 1250*ms, 2000*ms, 50*ms)),
			nil, nil,
		},
		{
			"more are one", together(cyclic(1, 0, 2000*ms, 10*ms), cyclic(2, 0, 1000*ms, 50*ms), cyclic(2, 1251*ms, 2001*ms, 50*ms)),
			[]Silence{{1000 * ms, 251 * ms}}, nil,
		},
		{
			"below 100 ms is none", together(cyclic(1, 0, 2000*ms, 10*ms), cyclic(2, 0, 1000*ms, 10*ms), cyclic(2, 1099*ms, 2000*ms, 10*ms)),
			nil, nil,
		},
		{
			"to the log's end", together(cyclic(1, 0, 2000*ms, 10*ms), cyclic(2, 0, 1000*ms, 20*ms)),
			[]Silence{{1000 * ms, 1000 * ms}}, nil,
		},
		{
			"a gap of the recording is none", together(cyclic(1, 0, 1000*ms, 10*ms), cyclic(2, 0, 1000*ms, 20*ms), cyclic(1, 3000*ms, 4000*ms, 10*ms), cyclic(2, 3000*ms, 4000*ms, 20*ms)),
			nil, []analyze.Gap{{Start: 1000 * ms, End: 3000 * ms}},
		},
		{
			"a gap is left out of one", together(cyclic(1, 0, 1000*ms, 10*ms), cyclic(2, 0, 500*ms, 20*ms), cyclic(1, 3000*ms, 4000*ms, 10*ms), cyclic(2, 3200*ms, 4000*ms, 20*ms)),
			[]Silence{{500 * ms, 700 * ms}}, []analyze.Gap{{Start: 1000 * ms, End: 3000 * ms}},
		},
		{
			"not by chance: too few frames to learn from", together(cyclic(1, 0, 2000*ms, 10*ms), cyclic(2, 0, 90*ms, 10*ms)),
			nil, nil,
		},
	} {
		got := count(Options{}, test.frames)
		var silences []Silence
		for _, x := range got.IDs {
			silences = append(silences, x.Silences...)
		}
		if diff := cmp.Diff(test.want, silences); diff != "" {
			t.Errorf("%s: silences (-want +got):\n%s", test.name, diff)
		}
		if diff := cmp.Diff(test.gaps, got.Gaps); diff != "" {
			t.Errorf("%s: gaps (-want +got):\n%s", test.name, diff)
		}
	}
}

// Frames that come in heaps have no period to miss: what is sent when asked for.
func TestHeapsAreNotRegular(t *testing.T) {
	var heaps []decode.Frame
	for at := int64(0); at < 20000*ms; at += 1000 * ms {
		heaps = append(heaps, cyclic(2, at, at+20*ms, 5*ms)...)
	}
	got := count(Options{}, together(cyclic(1, 0, 20000*ms, 10*ms), heaps))
	if x := got.IDs[1]; x.Regular || len(x.Silences) > 0 || x.Period != 5e6 {
		t.Errorf("%+v", x)
	}
}

func TestTimeThatRunsBackStartsANewPart(t *testing.T) {
	frames := append(cyclic(1, 10000*ms, 11000*ms, 10*ms), cyclic(1, 10000*ms, 11000*ms, 10*ms)...)
	for i := range frames {
		frames[i].Line = int64(i + 1)
	}
	frames[50].Time -= 30 * ms // as interfaces that are written in turn do
	got := count(Options{}, frames)
	want := []decode.Remark{
		{
			Code: decode.RemarkTimeBackwards, Count: 2, Line: 51, Time: 10470 * ms, HasTime: true,
			Text: "2 time stamps lie before the one of the line before", Places: []decode.Place{{Line: 51}, {Line: 102}},
		},
		{
			Code: decode.RemarkTimeJump, Count: 1, Line: 102, Time: 10000 * ms, HasTime: true,
			Text: "time runs back by more than 100 ms at 1 place", Places: []decode.Place{{Line: 102}},
		},
	}
	if diff := cmp.Diff(want, got.Info.Remarks); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	if x := got.IDs[0]; x.Count != 202 || x.Period != 10e6 || len(x.Silences) > 0 || len(got.Gaps) > 0 {
		t.Errorf("%+v, gaps %v", x, got.Gaps)
	}
}

func TestGarbageStaysInBounds(t *testing.T) {
	c := New(Options{})
	for i := range mostIDs + 3 {
		c.Add(&decode.Frame{Time: int64(i), Bus: "can0", ID: uint32(i), Flags: decode.Extended})
	}
	for i := range mostBuses + 4 {
		c.Add(&decode.Frame{Time: mostIDs + 2, Bus: "b" + string(rune(0x4E00+i)), ID: 0x1FFFFFFF, Flags: decode.Error})
	}
	c.Add(&decode.Frame{Time: mostIDs + 2, Bus: "another", ID: 1})
	for i := range mostErrors + 5 {
		c.Add(&decode.Frame{Time: mostIDs + 2, Bus: "can0", ID: 1 << 1, Flags: decode.Error, Len: 8, Data: [64]byte{byte(i), 1}})
	}
	got := c.Result(decode.Info{Stamps: decode.StampsAbsolute})
	if len(got.IDs) != mostIDs || len(got.Buses) != mostBuses || len(got.Errors) != mostErrors {
		t.Errorf("%d identifiers, %d interfaces, %d kinds of errors", len(got.IDs), len(got.Buses), len(got.Errors))
	}
	var texts []string
	for _, m := range got.Info.Remarks {
		if m.Code != RemarkLeftOut {
			t.Errorf("%+v", m)
		}
		texts = append(texts, m.Text)
	}
	want := []string{
		"1 frame of further interfaces left out; the first 1024 are listed",
		"3 frames of further identifiers left out; the first 65536 are listed",
		"1033 error frames of further kinds left out; the first 256 kinds are listed",
	}
	if diff := cmp.Diff(want, texts); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

// Of very many silences the longest are kept, in order, and it is said that there
// are more. Pauses of the recording do not crowd them out.
func TestTheLongestSilencesAreKept(t *testing.T) {
	var flicker []decode.Frame
	for i := range int64(mostSilences + 1) {
		flicker = append(flicker, cyclic(2, i*2000*ms, i*2000*ms+1000*ms+i*ms, 20*ms)...)
	}
	end := flicker[len(flicker)-1].Time
	got := count(Options{}, together(cyclic(1, 0, end, 10*ms), flicker))
	if x := got.IDs[1]; len(x.Silences) != mostSilences || x.Silences[0].Start != 1000*ms {
		t.Errorf("%d silences: %v", len(x.Silences), x.Silences)
	}
	pauses := cyclic(1, 0, 5000*ms, 10*ms)
	pauses = together(pauses, cyclic(2, 0, 1000*ms, 20*ms), cyclic(2, 1500*ms, 5000*ms, 20*ms))
	for i := range int64(mostSilences + 9) {
		from := 10000*ms + i*10000*ms
		pauses = append(pauses, together(cyclic(1, from, from+1000*ms, 10*ms), cyclic(2, from, from+1000*ms, 20*ms))...)
	}
	got = count(Options{}, pauses)
	want := []Silence{{1000 * ms, 500 * ms}}
	if diff := cmp.Diff(want, got.IDs[1].Silences); diff != "" || len(got.Gaps) != mostSilences+9 || len(got.Info.Remarks) > 0 {
		t.Errorf("%d gaps, remarks %v, silences (-want +got):\n%s", len(got.Gaps), got.Info.Remarks, diff)
	}
}

func TestMoreSilencesThanKeptAreSaid(t *testing.T) {
	var flicker []decode.Frame
	for i := range int64(mostSilences + 2) {
		flicker = append(flicker, cyclic(2, i*2000*ms, i*2000*ms+1000*ms, 20*ms)...)
	}
	got := count(Options{}, together(cyclic(1, 0, flicker[len(flicker)-1].Time, 10*ms), flicker))
	if len(got.Info.Remarks) != 1 || !strings.HasPrefix(got.Info.Remarks[0].Text, "there are more silences") {
		t.Errorf("%v", got.Info.Remarks)
	}
}

func TestNothingIsAllocatedForAFrame(t *testing.T) {
	if testing.CoverMode() != "" {
		t.Skip("SKIPPED: coverage counts allocate")
	}
	c := New(Options{Bits: true})
	frames := together(cyclic(1, 0, 1000*ms, 10*ms), cyclic(2, 0, 1000*ms, 20*ms), cyclic(3, 0, 1000*ms, 200*ms))
	frames = append(frames, decode.Frame{Time: 1000 * ms, Bus: "can0", ID: 4, Flags: decode.Error, Len: 8})
	shift := int64(0)
	pass := func() {
		for i := range frames {
			f := frames[i]
			f.Time += shift
			c.Add(&f)
		}
		shift += 1010 * ms
	}
	for range 100 {
		pass()
	}
	if n := testing.AllocsPerRun(20, pass); n > 0 {
		t.Errorf("%v allocations", n)
	}
}

// The recorded log of a marine engine's start: 853 frames, no times (listed so in
// the notes that come with the recorded logs).
func TestRecordedLogWithoutTimes(t *testing.T) {
	path := filepath.Join("..", "..", "..", "shared", "data", "marine_engine_start_no_time_console.txt.gz")
	file, err := os.Open(path)
	if err != nil {
		t.Skip("SKIPPED: the recorded logs are not there")
	}
	defer file.Close()
	text, err := gzip.NewReader(file)
	if err != nil {
		t.Fatal(err)
	}
	reader := candump.NewReader(text, candump.Options{})
	c := New(Options{})
	for reader.Scan() {
		c.Add(reader.Frame())
	}
	got := c.Result(reader.Info())
	if got.Frames != 853 || got.HasTime || len(got.IDs) != 9 {
		t.Errorf("%d frames, times: %v, %d identifiers", got.Frames, got.HasTime, len(got.IDs))
	}
	var sum int64
	for _, x := range got.IDs {
		sum += x.Count
		if x.HasPeriod || x.Regular {
			t.Errorf("%X has a period", x.ID)
		}
	}
	if sum != 853 {
		t.Errorf("%d frames in all rows", sum)
	}
}

func TestTimeThatRunsBackByJustATenthOfASecondGoesOn(t *testing.T) {
	for _, test := range []struct{ back, jumps int64 }{{100 * ms, 0}, {100*ms + 1, 1}} {
		frames := []decode.Frame{{Time: 1000 * ms}, {Time: 2000 * ms}, {Time: 2000*ms - test.back}, {Time: 2010 * ms}}
		jumps := int64(0)
		for _, r := range count(Options{}, frames).Info.Remarks {
			if r.Code == decode.RemarkTimeJump {
				jumps += r.Count
			}
		}
		if jumps != test.jumps {
			t.Errorf("%d ns back: %d jumps, want %d", test.back, jumps, test.jumps)
		}
	}
}
