package capture

import (
	"fmt"
	"slices"

	"lull/decode"
)

// mostNames is how many interfaces are named. Garbage may have many more.
const mostNames = 1024

// firstAbsolute is the smallest time, in nanoseconds, that counts as a date. It lies in 2001,
// like in text logs, where dates have ten digits of seconds.
const firstAbsolute = 1_000_000_000_000_000_000

// tally counts the packets of a capture.
type tally struct {
	info    decode.Info
	reasons [reasonCount]int64
	places  []decode.Place
	cut     reason // cutShort, cutByFault, framing, sectionVersion, or accepted
	small   int64  // number of the first packet if its time is not a date
	other   int64  // number of the first packet of an interface other than CAN
	dropped map[int]uint64
	lost    uint64 // frames dropped in earlier sections
	lastBus string
	buses   map[string]struct{}
}

// packet counts a packet, which must then be accepted, rejected or passed over.
func (t *tally) packet() { t.info.Lines++ }

func (t *tally) accept(f *decode.Frame, digits int) {
	if t.info.Accepted == 0 {
		t.info.Stamps = decode.StampsAbsolute
		if f.Time < firstAbsolute {
			t.info.Stamps, t.small = decode.StampsZero, t.info.Lines
		}
	}
	t.info.Accepted++
	switch {
	case f.Flags.Has(decode.Error):
		t.info.ErrorFrames++
	case f.Flags.Has(decode.Remote):
		t.info.RemoteFrames++
	}
	t.info.StampDigits = max(t.info.StampDigits, digits)
	if f.Bus == t.lastBus {
		return
	}
	t.lastBus = f.Bus
	if _, known := t.buses[f.Bus]; !known && len(t.buses) < mostNames {
		if t.buses == nil {
			t.buses = make(map[string]struct{})
		}
		t.buses[f.Bus] = struct{}{}
		t.info.Interfaces = append(t.info.Interfaces, f.Bus)
	}
}

func (t *tally) reject(why reason) {
	t.info.Rejected++
	t.reasons[why]++
	if len(t.places) < decode.MaxPlaces {
		t.places = append(t.places, decode.Place{Line: t.info.Lines, Why: why.String()})
	}
}

// passOver counts a packet of an interface other than CAN.
func (t *tally) passOver() {
	t.info.Remarked++
	if t.other == 0 {
		t.other = t.info.Lines
	}
}

// drops notes how many frames an interface has lost so far, as counted by the recorder.
func (t *tally) drops(iface int, count uint64) {
	if t.dropped == nil {
		t.dropped = make(map[int]uint64)
	}
	t.dropped[iface] = count
}

// endSection adds the drop counts of the section's interfaces to lost.
func (t *tally) endSection() {
	for _, n := range t.dropped {
		t.lost = addUpTo(t.lost, n)
	}
	clear(t.dropped)
}

// addUpTo adds two counts, up to the largest int64.
func addUpTo(a, b uint64) uint64 { return min(a+min(b, 1<<63-1), 1<<63-1) }

// finish returns the counts with their remarks.
func (t *tally) finish() decode.Info {
	info := t.info
	info.Interfaces = slices.Clone(t.info.Interfaces)
	info.Remarks = nil
	add := func(m decode.Remark) { info.Remarks = append(info.Remarks, m) }
	if info.Rejected > 0 {
		add(decode.Remark{
			Code: decode.RemarkRejectedLines, Count: info.Rejected, Line: t.places[0].Line,
			Text: t.rejectedText(), Places: slices.Clone(t.places),
		})
	}
	if t.cut != accepted {
		text := "the capture ends within its last packet; everything before it was read"
		if t.cut == framing || t.cut == sectionVersion {
			text = fmt.Sprintf("the capture cannot be read from packet %d on; everything before it was read", info.Lines)
		}
		add(decode.Remark{Code: decode.RemarkCutShort, Count: 1, Line: info.Lines, Text: text})
	}
	lost := t.lost
	for _, n := range t.dropped {
		lost = addUpTo(lost, n)
	}
	if lost > 0 {
		add(decode.Remark{
			Code: decode.RemarkFramesDropped, Count: int64(lost),
			Text: decode.Counted(int64(lost), "frame was", "frames were") + " lost while recording, according to the capture's own statistics",
		})
	}
	if info.Remarked > 0 {
		add(decode.Remark{
			Code: decode.RemarkOtherPackets, Count: info.Remarked, Line: t.other,
			Text: decode.Counted(info.Remarked, "packet of another interface than CAN was", "packets of other interfaces than CAN were") + " skipped",
		})
	}
	if t.small > 0 {
		add(decode.Remark{
			Code: decode.RemarkStampsReadAs, Count: 1, Line: t.small,
			Text: "the time stamps begin before the year 2001, so they are taken as seconds since the start of the log",
		})
	}
	return info
}

// rejectedText says why packets were rejected, the most common reason first.
func (t *tally) rejectedText() string {
	why := decode.ByReason(t.reasons[:], func(i int) string { return reason(i).String() })
	return decode.Counted(t.info.Rejected, "packet was", "packets were") + " rejected: " + why
}
