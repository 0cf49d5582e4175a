package candump

import (
	"fmt"
	"slices"

	"lull/decode"
)

// Info returns what was counted so far, with the resulting remarks: rejected_lines,
// cut_short, frames_dropped (whose Count is the number of frames), no_times and
// stamps_read_as. The caller owns the result. Frames that are held back are counted once
// the meaning of their stamps is clear, which is before Scan returns the first of them. At
// most 1,024 interfaces are named.
func (r *Reader) Info() decode.Info {
	info := r.info
	info.Stamps = r.settled
	info.Interfaces = slices.Clone(r.info.Interfaces)
	info.Remarks = nil
	add := func(m decode.Remark) { info.Remarks = append(info.Remarks, m) }
	if info.Rejected > 0 {
		add(decode.Remark{
			Code: decode.RemarkRejectedLines, Count: info.Rejected, Line: r.places[0].Line,
			Text: r.rejectedText(), Places: slices.Clone(r.places),
		})
	}
	if r.cutLine > 0 {
		add(decode.Remark{
			Code: decode.RemarkCutShort, Count: 1, Line: r.cutLine,
			Text: "the log ends within its last line; everything before it was read",
		})
	}
	if r.dropLine > 0 {
		add(DroppedRemark(r.dropLine, r.dropped, info.Remarked))
	}
	if r.settled == decode.StampsNone {
		add(decode.Remark{
			Code: decode.RemarkNoTimes, Count: info.Accepted, Line: 1,
			Text: "no line has a time stamp, so nothing can be measured; record with candump -l or candump -t a",
		})
	}
	if text := r.stampsText(); text != "" {
		add(decode.Remark{Code: decode.RemarkStampsReadAs, Count: 1, Line: r.small, Text: text})
	}
	return info
}

// DroppedRemark returns the remark that frames were lost while recording, as reported by
// the given number of lines of the log, of which line is the first.
func DroppedRemark(line, frames, lines int64) decode.Remark {
	return decode.Remark{
		Code: decode.RemarkFramesDropped, Count: frames, Line: line,
		Text: fmt.Sprintf("%s lost while recording, according to %s of the log",
			decode.Counted(frames, "frame was", "frames were"), decode.Counted(lines, "line", "lines")),
	}
}

// rejectedText says why lines were rejected, the most common reason first.
func (r *Reader) rejectedText() string {
	why := decode.ByReason(r.reasons[:], func(i int) string { return reason(i).String() })
	return decode.Counted(r.info.Rejected, "line was", "lines were") + " rejected: " + why
}

// stampsText says what small time stamps were taken to mean, why, and how to change it.
func (r *Reader) stampsText() string {
	if r.small == 0 {
		return ""
	}
	text := ""
	switch r.settled {
	case decode.StampsAbsolute:
		text = "the time stamps are taken as seconds since 1970"
	case decode.StampsZero:
		text = "this log's clock starts at 0, so times are counted from its start"
	case decode.StampsDelta:
		text = "the time stamps of this log count from line to line"
	default:
		return ""
	}
	if r.forced != decode.StampsUnknown {
		return fmt.Sprintf("%s, as --stamps %s asks", text, r.forced)
	}
	other, means := decode.StampsDelta, "from line to line"
	if r.settled == decode.StampsDelta {
		other, means = decode.StampsZero, "from the start of the log"
	}
	if total := r.kinds[stampSmall]; total > 1 && r.fewer > 0 {
		text += fmt.Sprintf(" (%d of the first %d %s smaller than the one before)", r.fewer, total, decode.Pick(int(r.fewer), "is", "are"))
	}
	return fmt.Sprintf("%s; use --stamps %s if they count %s", text, other, means)
}
