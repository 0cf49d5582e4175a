package candump

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
)

func times(frames []decode.Frame) []int64 {
	var list []int64
	for i := range frames {
		list = append(list, frames[i].Time)
	}
	return list
}

// stamped returns a line in log form for each stamp.
func stamped(stamps ...string) string {
	var b strings.Builder
	for _, s := range stamps {
		fmt.Fprintf(&b, "(%s) can0 123#11\n", s)
	}
	return b.String()
}

const bare = "  can0  123   [1]  11\n"

func TestStampsAreJudgedByTheWholeLog(t *testing.T) {
	const ms = 1_000_000
	var rising, falling []string
	var ticks []int64
	for i := range 20 {
		rising = append(rising, fmt.Sprintf("000.%03d000", i))
		falling = append(falling, fmt.Sprintf("000.%03d000", 10+i%2))
		ticks = append(ticks, int64(i)*ms)
	}
	oneInTen := append([]string{}, rising...)
	oneInTen[5], oneInTen[10] = "000.000000", "000.000000" // two of twenty are smaller
	tests := []struct {
		name   string
		log    string
		forced decode.Stamps
		stamps decode.Stamps
		times  []int64
		text   string // of stamps_read_as
		bad    []decode.Place
	}{
		{name: "ten digits are absolute", log: stamped("0000000005.000000", "0000000006.000000"), stamps: decode.StampsAbsolute, times: []int64{5e9, 6e9}},
		{name: "dates", log: stamped("1970-01-01 00:00:05.000000", "1970-01-02 00:00:00.000000"), stamps: decode.StampsDate, times: []int64{5e9, 86400e9}},
		{name: "rising small ones are zero-based", log: stamped(rising...), stamps: decode.StampsZero, times: ticks,
			text: "this log's clock starts at 0, so times are counted from its start; use --stamps delta if they count from line to line"},
		{name: "falling small ones are delta", log: stamped(falling[:4]...), stamps: decode.StampsDelta, times: []int64{10 * ms, 21 * ms, 31 * ms, 42 * ms},
			text: "the time stamps of this log count from line to line (1 of the first 4 is smaller than the one before); use --stamps zero if they count from the start of the log"},
		{name: "one in ten is not more than one in ten", log: stamped(oneInTen...), stamps: decode.StampsZero,
			times: append(append(append(append([]int64{}, ticks[:5]...), 0), ticks[6:10]...), append([]int64{0}, ticks[11:]...)...),
			text:  "this log's clock starts at 0, so times are counted from its start (2 of the first 20 are smaller than the one before); use --stamps delta if they count from line to line"},
		{name: "one stamp alone is zero-based", log: stamped("000.000000"), stamps: decode.StampsZero, times: []int64{0},
			text: "this log's clock starts at 0, so times are counted from its start; use --stamps delta if they count from line to line"},
		{name: "zero forced", log: stamped(falling[:4]...), forced: decode.StampsZero, stamps: decode.StampsZero, times: []int64{10 * ms, 11 * ms, 10 * ms, 11 * ms},
			text: "this log's clock starts at 0, so times are counted from its start, as --stamps zero asks"},
		{name: "delta forced", log: stamped(rising[:4]...), forced: decode.StampsDelta, stamps: decode.StampsDelta, times: []int64{0, 1 * ms, 3 * ms, 6 * ms},
			text: "the time stamps of this log count from line to line, as --stamps delta asks"},
		{name: "absolute forced", log: stamped("5.000000", "6.000000"), forced: decode.StampsAbsolute, stamps: decode.StampsAbsolute, times: []int64{5e9, 6e9},
			text: "the time stamps are taken as seconds since 1970, as --stamps absolute asks"},
		{name: "zero forced on ten digits", log: stamped("0000000005.000000", "6.000000"), forced: decode.StampsZero, stamps: decode.StampsZero, times: []int64{5e9, 6e9},
			text: "this log's clock starts at 0, so times are counted from its start, as --stamps zero asks"},
		{name: "delta forced on ten digits", log: stamped("0000000005.000000", "6.000000"), forced: decode.StampsDelta, stamps: decode.StampsDelta, times: []int64{6e9},
			text: "the time stamps of this log count from line to line, as --stamps delta asks",
			bad:  []decode.Place{{Line: 1, Column: 1, Why: stampNoDelta.String()}}},
		{name: "a forced kind that cannot be forced is ignored", log: stamped("5.000000"), forced: decode.StampsDate, stamps: decode.StampsZero, times: []int64{5e9},
			text: "this log's clock starts at 0, so times are counted from its start; use --stamps delta if they count from line to line"},
		{name: "no stamps", log: bare + bare, stamps: decode.StampsNone, times: []int64{0, 0}},
		{name: "empty", log: "", stamps: decode.StampsUnknown},
		{name: "garbage", log: "x\n", stamps: decode.StampsUnknown, bad: []decode.Place{{Line: 1, Column: 1, Why: notALine.String()}}},
		{name: "a first line that lost its stamp", log: bare + "x\n" + stamped("0000000005.000000"), stamps: decode.StampsAbsolute, times: []int64{5e9},
			bad: []decode.Place{{Line: 1, Column: 1, Why: stampMissing.String()}, {Line: 2, Column: 1, Why: notALine.String()}}},
		{name: "a first line that lost its stamp before small ones", log: bare + stamped("5.000000"), stamps: decode.StampsZero, times: []int64{5e9},
			text: "this log's clock starts at 0, so times are counted from its start; use --stamps delta if they count from line to line",
			bad:  []decode.Place{{Line: 1, Column: 1, Why: stampMissing.String()}}},
		{name: "a later line without a stamp", log: stamped("0000000005.000000") + bare + stamped("0000000006.000000"), stamps: decode.StampsAbsolute, times: []int64{5e9, 6e9},
			bad: []decode.Place{{Line: 2, Column: 1, Why: stampMissing.String()}}},
		{name: "small, then bare, absolute and date", log: stamped("5.000000") + bare + stamped("0000000006.000000", "1970-01-01 00:00:05.000000", "6.000000"), stamps: decode.StampsZero, times: []int64{5e9, 6e9},
			text: "this log's clock starts at 0, so times are counted from its start; use --stamps delta if they count from line to line",
			bad: []decode.Place{{Line: 2, Column: 1, Why: stampMissing.String()},
				{Line: 3, Column: 1, Why: stampOtherKind.String()}, {Line: 4, Column: 1, Why: stampOtherKind.String()}}},
		{name: "a first stamp that lost digits", log: stamped("000005.000000") + bare + "x\n" + stamped("0000000006.000000", "0000000007.000000", "0000000008.000000"), stamps: decode.StampsAbsolute, times: []int64{6e9, 7e9, 8e9},
			bad: []decode.Place{{Line: 1, Column: 1, Why: stampOtherKind.String()}, {Line: 2, Column: 1, Why: stampMissing.String()}, {Line: 3, Column: 1, Why: notALine.String()}}},
		{name: "two first stamps that lost digits before dates", log: stamped("5.000000", "6.000000", "1970-01-01 00:00:05.000000", "1970-01-01 00:00:06.000000", "1970-01-01 00:00:07.000000", "7.000000"), stamps: decode.StampsDate, times: []int64{5e9, 6e9, 7e9},
			bad: []decode.Place{{Line: 1, Column: 1, Why: stampOtherKind.String()}, {Line: 2, Column: 1, Why: stampOtherKind.String()}, {Line: 6, Column: 1, Why: stampOtherKind.String()}}},
		{name: "absolute, then small and date", log: stamped("0000000006.000000", "5.000000", "1970-01-01 00:00:05.000000"), stamps: decode.StampsAbsolute, times: []int64{6e9},
			bad: []decode.Place{{Line: 2, Column: 1, Why: stampOtherKind.String()}, {Line: 3, Column: 1, Why: stampOtherKind.String()}}},
		{name: "both forms in one log", log: stamped("0000000005.000000") + " (0000000006.000000)  can0  123   [1]  11\n", stamps: decode.StampsAbsolute, times: []int64{5e9, 6e9}},
		{name: "a delta log's time goes on over rejected lines", forced: decode.StampsDelta,
			log:    stamped("1.000000") + "(2.000000) can0 45123#81:00:12345678#1122\n(x) can0 123#11\n" + stamped("4.000000"),
			stamps: decode.StampsDelta, times: []int64{1e9, 7e9},
			text: "the time stamps of this log count from line to line, as --stamps delta asks",
			bad:  []decode.Place{{Line: 2, Column: 17, Why: canXL.String()}, {Line: 3, Column: 2, Why: stampNoNumber.String()}}},
		{name: "... in what is held back too", log: stamped("1.000000") + "(2.000000) can0 123#1\n" + stamped("0.500000") + "(4.000000) can0 123#1\n",
			stamps: decode.StampsDelta, times: []int64{1e9, 3.5e9},
			text: "the time stamps of this log count from line to line (1 of the first 2 is smaller than the one before); use --stamps zero if they count from the start of the log",
			bad:  []decode.Place{{Line: 2, Column: 21, Why: oddDigits.String()}, {Line: 4, Column: 21, Why: oddDigits.String()}}},
		{name: "a lost digit of the fraction", log: stamped("0000000005.000000", "0000000006.00000", "0000000007.000000000"), stamps: decode.StampsAbsolute, times: []int64{5e9, 7e9},
			bad: []decode.Place{{Line: 2, Column: 13, Why: stampDigits.String()}}},
		{name: "another tool's fraction", log: stamped("0000000005.001", "0000000006.002", "0000000006.02"), stamps: decode.StampsAbsolute, times: []int64{5001 * ms, 6002 * ms},
			bad: []decode.Place{{Line: 3, Column: 13, Why: stampDigits.String()}}},
		{name: "times that add up to too much", log: stamped(strings.Split(strings.Repeat("999999999.000000 ", 10)+"1.000000", " ")...), forced: decode.StampsDelta, stamps: decode.StampsDelta,
			times: []int64{999999999e9, 2 * 999999999e9, 3 * 999999999e9, 4 * 999999999e9, 5 * 999999999e9, 6 * 999999999e9, 7 * 999999999e9, 8 * 999999999e9, 9 * 999999999e9, 9*999999999e9 + 1e9},
			text:  "the time stamps of this log count from line to line, as --stamps delta asks",
			bad:   []decode.Place{{Line: 10, Column: 1, Why: timeTooLarge.String()}}},
		{name: "... in what is held back", log: stamped(strings.Split(strings.Repeat("999999999.000000 1.000000 ", 10)+"1.000000", " ")...), stamps: decode.StampsDelta,
			times: func() (list []int64) {
				sum := int64(0)
				for range 9 {
					list = append(list, sum+999999999e9, sum+1000000000e9)
					sum += 1000000000e9
				}
				return append(list, sum+1e9, sum+2e9)
			}(),
			text: "the time stamps of this log count from line to line (10 of the first 21 are smaller than the one before); use --stamps zero if they count from the start of the log",
			bad:  []decode.Place{{Line: 19, Column: 1, Why: timeTooLarge.String()}}},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			frames, info, err := readAll(t, strings.NewReader(c.log), Options{Stamps: c.forced})
			if err != nil {
				t.Fatal(err)
			}
			if info.Stamps != c.stamps {
				t.Errorf("stamps are read as %v, want %v", info.Stamps, c.stamps)
			}
			if diff := cmp.Diff(c.times, times(frames)); diff != "" {
				t.Errorf("times (-want +got):\n%s", diff)
			}
			read, _ := remark(info, decode.RemarkStampsReadAs)
			if read.Text != c.text {
				t.Errorf("remark %q, want %q", read.Text, c.text)
			}
			bad, _ := remark(info, decode.RemarkRejectedLines)
			if diff := cmp.Diff(c.bad, bad.Places); diff != "" {
				t.Errorf("places (-want +got):\n%s", diff)
			}
			none, has := remark(info, decode.RemarkNoTimes)
			if has != (c.stamps == decode.StampsNone) || has && none.Count != info.Accepted {
				t.Errorf("remark no_times: %v %+v", has, none)
			}
		})
	}
}

// The first 1,000 small stamps decide; later ones do not matter.
func TestOnlyTheFirstThousandStampsDecide(t *testing.T) {
	var b strings.Builder
	for i := range 1000 {
		fmt.Fprintf(&b, "(%03d.000000) can0 123#11\n", i)
	}
	zeroFirst := b.String() + strings.Repeat("(000.000001) can0 123#11\n(000.000000) can0 123#11\n", 2000)
	frames, info, _ := readAll(t, strings.NewReader(zeroFirst), Options{})
	if info.Stamps != decode.StampsZero || len(frames) != 5000 || frames[4999].Time != 0 {
		t.Errorf("read as %v, %d frames", info.Stamps, len(frames))
	}
	deltaFirst := strings.Repeat("(000.000001) can0 123#11\n(000.000000) can0 123#11\n", 500) + b.String()
	frames, info, _ = readAll(t, strings.NewReader(deltaFirst), Options{})
	if want := int64(500*1000 + 999*1000/2*1e9); info.Stamps != decode.StampsDelta || frames[1999].Time != want {
		t.Errorf("read as %v, the last at %d, want %d", info.Stamps, frames[1999].Time, want)
	}
	// After 1,000 frames without a stamp, it is settled that the log has none.
	late := strings.Repeat(bare, 1000) + stamped("0000000005.000000") + bare
	frames, info, _ = readAll(t, strings.NewReader(late), Options{})
	bad, _ := remark(info, decode.RemarkRejectedLines)
	want := []decode.Place{{Line: 1001, Column: 1, Why: stampUnexpected.String()}}
	if diff := cmp.Diff(want, bad.Places); diff != "" || len(frames) != 1001 {
		t.Errorf("%d frames, places (-want +got):\n%s", len(frames), diff)
	}
	// After 999 it is not: those frames are rejected.
	late = strings.Repeat(bare, 999) + stamped("0000000005.000000")
	frames, info, _ = readAll(t, strings.NewReader(late), Options{})
	if len(frames) != 1 || info.Rejected != 999 || info.Stamps != decode.StampsAbsolute {
		t.Errorf("%d frames, %d rejected, stamps %v", len(frames), info.Rejected, info.Stamps)
	}
}
