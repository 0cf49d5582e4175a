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
