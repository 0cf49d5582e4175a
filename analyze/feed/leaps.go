package feed

import (
	"fmt"
	"strings"

	"lull/decode"
	"lull/pkg/bounds"
)

// leaps is a remark on times that do not go on as they should, with how far they
// went.
type leaps struct {
	decode.Remark
	backs, aheads   int64
	farthest, ahead int64 // the greatest step back and ahead, in ns, both positive
}

// note takes one of them: by is how far time went, negative where it ran back.
func (l *leaps) note(line, now, by int64) {
	l.Count++
	if l.Count == 1 {
		l.Line, l.Time, l.HasTime = line, now, true
	}
	if by < 0 {
		l.backs, l.farthest = l.backs+1, max(l.farthest, -by)
	} else {
		l.aheads, l.ahead = l.aheads+1, max(l.ahead, by)
	}
	if len(l.Places) < decode.MaxPlaces {
		direction := "ahead"
		if by < 0 {
			direction, by = "back", -by
		}
		l.Places = append(l.Places, decode.Place{Line: line, Why: direction + " by " + secondsText(by)})
	}
}

// told says in which directions and how far time jumped.
func (l *leaps) told() string {
	back := leapText("back", l.backs, l.farthest)
	ahead := leapText("ahead", l.aheads, l.ahead)
	if l.aheads > 0 {
		ahead += decode.Pick(int(min(l.aheads, 2)), " over a gap", " over gaps") + " without any frame"
	}
	if back != "" && ahead != "" {
		return "time jumps at " + decode.Counted(l.Count, "place", "places") + ": " + back + ", and " + ahead
	}
	return "time jumps " + back + ahead
}

func leapText(direction string, n, farthest int64) string {
	switch n {
	case 0:
		return ""
	case 1:
		return direction + " by " + secondsText(farthest)
	}
	return fmt.Sprintf("%s %d times, by up to %s", direction, n, secondsText(farthest))
}

// secondsText writes a duration to the millisecond.
func secondsText(ns int64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.3f", bounds.Seconds(ns)), "0"), ".") + " s"
}

// Remarks returns what is to be said of the log's times and of answers that were not
// whole, with times as decode.Frame.Time.
func (f *Feed) Remarks() []decode.Remark {
	var list []decode.Remark
	if f.backward.Count > 0 {
		f.backward.Text = decode.Counted(f.backward.Count, "time stamp lies", "time stamps lie") + " before the one of the line before"
		list = append(list, f.dated(f.backward.Remark))
	}
	if f.jumps.Count > 0 {
		f.jumps.Text = f.jumps.told()
		list = append(list, f.dated(f.jumps.Remark))
	}
	if count, line, time := f.decoder.Incomplete(); count > 0 {
		list = append(list, decode.Remark{
			Code: decode.RemarkMessageIncomplete, Count: count, Line: line, Time: time, HasTime: true,
			Text: decode.Counted(count, "answer of several frames was", "answers of several frames were") +
				" left out: frames are missing, doubled or out of order",
			Places: f.decoder.IncompletePlaces(),
		})
	}
	return list
}

// dated gives a remark the time that its frame has in the log, as remarks of
// readers have.
func (f *Feed) dated(m decode.Remark) decode.Remark {
	m.Time += f.Zero
	return m
}
