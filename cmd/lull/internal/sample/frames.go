package sample

import (
	"lull/analyze"
	"lull/analyze/census"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// Frames returns two logs: one with everything, including names that would steer a terminal
// or a spreadsheet, and one without times.
func Frames() *words.Frames {
	errorCounts := []census.ErrorCount{{Bus: "can0", Text: "bus error", Count: 12}, {Bus: "=1+1", Text: "sending timed out", Count: 1}}
	regular := census.ID{
		Bus: "can0", ID: 0x1A0, Count: 700, Lengths: []int{8}, HasPeriod: true, Period: 10e6, Jitter: 412_345, Regular: true,
		Changing: []int{3, 4, 16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31, 40, 47},
		Silences: []census.Silence{{Start: 3 * Second, Duration: Second}, {Start: 5 * Second, Duration: Second / 5}},
	}
	return &words.Frames{Bitrate: 500e3, Several: true, Logs: []words.FramesLog{
		{Name: "=a.log", Result: &census.Result{
			Info: decode.Info{Stamps: decode.StampsAbsolute, StampDigits: 6, Rejected: 2, Remarks: []decode.Remark{
				{Code: decode.RemarkRejectedLines, Count: 2, Line: 7, Text: "2 lines were rejected", Places: []decode.Place{{Line: 7, Column: 3, Why: "odd"}}},
				{Code: decode.RemarkTimeJump, Count: 1, Line: 9, Time: 1_772_442_901e9, HasTime: true, Text: "time runs back"},
			}},
			HasTime: true, Start: 1_772_442_900e9, Span: 10 * Second, Frames: 750, ErrorFrames: 13, RemoteFrames: 3,
			Errors: errorCounts, Gaps: []analyze.Gap{{Start: 7 * Second, End: 8 * Second}},
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

// seen is the bits of values seen in a byte.
func seen(values ...uint8) (list [4]uint64) {
	for _, v := range values {
		list[v>>6] |= 1 << (v & 63)
	}
	return list
}

// NamedFrames is a log of a bus of SAE J1939 with a scan tool, its values counted; only is
// what is shown byte by byte.
func NamedFrames(only ...words.WantedID) *words.Frames {
	bytes := []census.Byte{
		{Count: 600, Pairs: 599, Seen: seen(0x40)},
		{Count: 600, Pairs: 599, Changes: 599, Seen: seen(0, 1, 14, 15), Counters: []census.CounterBits{{Low: 0, Bits: 2, Step: 1}, {Low: 2, Bits: 2, Step: 3}}},
		{Count: 600, Pairs: 599, Changes: 599, Seen: seen(1, 3, 5), Counters: []census.CounterBits{{Low: 0, Bits: 4, Step: 5}}},
		{Count: 600, Pairs: 599, Changes: 590, Seen: seen(0, 0xFF), Check: census.CheckCRC1DKey, Flips: [8]int64{1, 2, 3, 4, 5, 6, 7, 8}},
		{Count: 600, Pairs: 599, Changes: 598, Seen: seen(1, 16, 32), Pages: true},
		{Count: 600, Pairs: 599, Changes: 590, Seen: seen(0, 0xFF), Restless: true},
		{Count: 600, Pairs: 599, Changes: 3, Seen: seen(0, 16)},
		{Count: 600, Pairs: 599, Changes: 300, Seen: seen(20, 30, 40)},
	}
	return &words.Frames{Only: only, Logs: []words.FramesLog{{Name: "truck.log", Result: &census.Result{
		Info: decode.Info{Stamps: decode.StampsAbsolute, StampDigits: 6}, HasTime: true, Start: 1_772_442_900e9, Span: 10 * Second, Frames: 620,
		Buses: []census.Bus{{Name: "can0", Frames: 620, J1939: true}},
		IDs: []census.ID{
			{Bus: "can0", ID: 0x7E8, Count: 20, Lengths: []int{8}},
			{Bus: "can0", ID: 0x0CF00400, Extended: true, Count: 600, Lengths: []int{8}, HasPeriod: true, Period: 20e6, Regular: true, Bytes: bytes},
			{Bus: "can0", ID: 0x18FEF100, Extended: true, Remote: 1},
			{Bus: "can0", ID: 0x18FEF117, Extended: true, Count: 1, Lengths: []int{0}},
		},
		Answers: []census.Answer{
			{Bus: "can0", ID: 0x7E8, Service: 1, Number: 0x0C, Count: 12, HasValue: true, Least: 0, Most: 8000},
			{Bus: "can0", ID: 0x7E8, Service: 1, Number: 0x05, Count: 1, HasValue: true, Least: 130, Most: 130},
			{Bus: "can0", ID: 0x7E8, Service: 1, Number: 0xC1, Count: 2},
			{Bus: "can0", ID: 0x7E8, Service: 2, Number: 0x0C, Count: 2},
			{Bus: "can0", ID: 0x7E8, Service: 0x22, Number: 0xF190, Count: 2},
			{Bus: "can0", ID: 0x7E8, Service: 0x99, Number: -1, Count: 2},
			{Bus: "can0", ID: 0x7E8, Service: 0x22, Number: -1, Refused: true, Code: 0x31, Count: 2},
			{Bus: "can0", ID: 0x7E8, Service: 0x22, Number: -1, Refused: true, Code: 0xEE, Count: 1},
		},
	}}}}
}

// FramesAgainst are two sides with every kind of difference.
func FramesAgainst() *words.Frames {
	r, other := NamedFrames(), NamedFrames()
	other.Logs[0].Name = "=pressed.log"
	r.Against = other.Logs
	frames := [2]int64{600, 500}
	r.Differences = &census.Differences{Counters: 2, Checksums: 1, Pages: 1, Restless: 3, Uncounted: 2, List: []census.Difference{
		{Kind: census.Switched, ID: 0x1A0, Byte: 2, Low: 4, Bits: 1, Against: census.Range{Least: 1, Most: 1}, Frames: frames},
		{Kind: census.Toggled, ID: 0x1A0, Byte: 3, Low: 0, Bits: 2, Against: census.Range{Most: 3}, Changes: [2]int64{0, 1}, Frames: frames},
		{Kind: census.Missing, ID: 0x0CF00400, Extended: true, Frames: [2]int64{0, 500}},
		{Kind: census.Missing, ID: 0x123, Bus: "=can1", Frames: [2]int64{600, 0}},
		{Kind: census.Toggled, ID: 0x0CF00401, Extended: true, Byte: 3, Low: 6, Bits: 1, Of: census.Range{Most: 1}, Changes: [2]int64{1234, 0}, Frames: frames, Part: true},
		{Kind: census.Ranged, ID: 0x1A0, Byte: 7, Bits: 8, Of: census.Range{Least: 1, Most: 8}, Against: census.Range{Least: 2, Most: 9}, Changes: [2]int64{5, 6}, Frames: frames},
	}}
	for _, big := range []bool{true, false} {
		r.Differences.List = append(r.Differences.List, census.Difference{Kind: census.Ranged, ID: 0x1A0, Byte: 4, Bits: 16, Big: big,
			Of: census.Range{Least: 3000, Most: 4500}, Against: census.Range{Least: 900, Most: 11500}, Changes: [2]int64{500, 400}, Frames: frames})
	}
	for i := range 20 {
		r.Differences.List = append(r.Differences.List, census.Difference{
			Kind: census.Ranged, ID: 0x200 + uint32(i), Bits: 8, Of: census.Range{Most: 8}, Against: census.Range{Most: 9}, Changes: [2]int64{5, 6}, Frames: frames,
		})
	}
	return r
}

// ManyFrames is a log in which there is more of everything than a table lists.
func ManyFrames() *words.Frames {
	many := Frames()
	many.Logs = many.Logs[:1]
	many.Several = false
	log := many.Logs[0].Result
	for i := range int64(14) {
		log.Errors = append(log.Errors, census.ErrorCount{Bus: "can0", Text: "kind", Count: i})
		log.Gaps = append(log.Gaps, analyze.Gap{Start: i * 2 * Second, End: (i*2 + 1) * Second})
		log.IDs[0].Silences = append(log.IDs[0].Silences, census.Silence{Start: i * Second, Duration: Second / 4})
	}
	return many
}
