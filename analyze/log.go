package analyze

import (
	"reflect"
	"slices"
)

// Log is one log of several that are looked at together.
type Log struct {
	Name   string
	SHA256 string // of the file; empty if it is not known
	Result *Result
}

// Dated reports whether the log says when it began.
func (r *Result) Dated() bool { return r.HasTime && r.Info.Stamps.Dated() }

// SameDrive reports whether two logs are the same drive: one file, or, packed or
// written out in another form, as many frames over the same time with the very same
// episodes. Frames and time alone would not do: a bench that plays a fixed schedule
// gives them alike for every drive.
func SameDrive(a, b *Log) bool {
	if a.SHA256 != "" && a.SHA256 == b.SHA256 {
		return true
	}
	x, y := a.Result, b.Result
	if !x.HasTime || !y.HasTime || x.Span != y.Span || x.Frames != y.Frames || !slices.EqualFunc(x.Episodes, y.Episodes, sameEpisode) {
		return false
	}
	if !x.Dated() || !y.Dated() {
		return len(x.Episodes) > 0 // without a date only episodes tell drives apart
	}
	return x.Start == y.Start
}

func sameEpisode(a, b Episode) bool {
	return a.Stop == b.Stop && a.Outcome == b.Outcome && slices.EqualFunc(a.Metrics, b.Metrics, func(v, w MetricValue) bool {
		return v.Key == w.Key && reflect.DeepEqual(v.Absent, w.Absent) && v.Best == w.Best
	})
}
