// Package decode is lull's vocabulary for the content of a log: frames, the signal map,
// samples, and the Decoder that turns frames into samples by means of the map. It opens
// no files and knows no text formats; the packages below it do (candump, sigmap). Start
// with Map and Decoder.
package decode

// Flags is the kind of a CAN frame.
type Flags uint16

const (
	Extended            Flags = 1 << iota // 29-bit identifier
	Remote                                // remote request, without payload
	Error                                 // error frame written by the interface, not a frame on the bus
	FD                                    // CAN FD frame
	BitRateSwitch                         // FD: the payload was sent at the higher rate
	ErrorStateIndicator                   // FD: the sender was error passive
	Received                              // according to the log, the interface received it
	Transmitted                           // according to the log, the interface sent it
)

// Has reports whether all of the given flags are set.
func (f Flags) Has(want Flags) bool { return f&want == want }

// MaxPayload is the length of the longest CAN FD payload in bytes.
const MaxPayload = 64

// Frame is one line or packet of a log. A reader reuses the Frame that it returns for the
// next one; use Clone to keep it.
type Frame struct {
	// Time is in nanoseconds, since the Unix epoch if the log's time stamps are
	// dates, else since the log's own zero. It is an int64 because a float64 of
	// seconds since 1970 has a resolution of only 238 ns.
	Time int64
	// Line is the line, or in a capture the packet, counted from 1.
	Line int64
	// Bus is the interface's name. Equal names share one string.
	Bus string
	// ID is the identifier without flag bits: 11 bits, or 29 with Extended. In an
	// error frame it holds the error class bits.
	ID    uint32
	Flags Flags
	// Len is the number of payload bytes in Data, or the length that a remote frame
	// requests.
	Len uint8
	// RawDLC is the length code 9 to 15 of a classic frame of eight bytes, if the
	// log contains it; else 0.
	RawDLC uint8
	// Skipped is how many frames a reader skipped by a Filter just before this one,
	// so close together that only their number matters: their times never run back,
	// and all steps are shorter than PassedStep. Other skipped frames are reported
	// as Passed.
	Skipped uint32
	Data    [MaxPayload]byte
}

// Payload returns the payload bytes, which alias the frame.
func (f *Frame) Payload() []byte {
	if f.Flags.Has(Remote) {
		return nil
	}
	return f.Data[:min(f.Len, MaxPayload)]
}

// Clone returns a copy that stays valid when the reader moves on.
func (f *Frame) Clone() *Frame {
	c := *f
	return &c
}

// Place is a position in a log, as a line and a byte column, both from 1, and what is
// wrong there. Column is 0 if no column applies.
type Place struct {
	Line   int64
	Column int64
	Why    string
}

// Remark is something about a log that the reader of a result should know. The codes are
// those of the JSON format; there is one remark for each code.
type Remark struct {
	Code  string
	Count int64
	Line  int64 // line of the first place, or 0
	// Time is the time of the first place, as Frame.Time, if HasTime.
	Time    int64
	HasTime bool
	Text    string
	Places  []Place // at most MaxPlaces
}

// MaxPlaces is how many places of one remark are kept.
const MaxPlaces = 10

// Codes of remarks.
const (
	RemarkRejectedLines     = "rejected_lines"
	RemarkCutShort          = "cut_short"
	RemarkFramesDropped     = "frames_dropped"
	RemarkTimeBackwards     = "time_backwards"
	RemarkTimeJump          = "time_jump"
	RemarkNoTimes           = "no_times"
	RemarkStampsReadAs      = "stamps_read_as"
	RemarkSignalNotSeen     = "signal_not_seen"
	RemarkMessageIncomplete = "message_incomplete"
	RemarkPackedDamaged     = "packed_damaged"
	RemarkOtherPackets      = "other_packets" // packets of interfaces other than CAN in a capture
)

// Stamps is the meaning of a log's time stamps.
type Stamps uint8

const (
	StampsUnknown  Stamps = iota // not known yet
	StampsAbsolute               // seconds since the Unix epoch, UTC
	StampsDate                   // date and time of day without a time zone
	StampsZero                   // seconds since the start of the log
	StampsDelta                  // seconds since the previous line
	StampsNone                   // no time stamps, so nothing can be measured
)

var stampNames = [...]string{"unknown", "absolute", "date", "zero", "delta", "none"}

func (s Stamps) String() string {
	if int(s) < len(stampNames) {
		return stampNames[s]
	}
	return stampNames[0]
}

// Dated reports whether Frame.Time counts from the Unix epoch.
func (s Stamps) Dated() bool { return s == StampsAbsolute || s == StampsDate }

// Info is what a reader has counted so far in a log. Accepted + Rejected + Blank +
// Comments + Remarked = Lines holds at any moment.
type Info struct {
	Bytes    int64
	Lines    int64
	Accepted int64 // frames of every kind
	Rejected int64
	Blank    int64
	Comments int64
	Remarked int64 // lines other than frames that are reported, such as drop counts

	ErrorFrames  int64
	RemoteFrames int64

	Stamps Stamps
	// StampDigits is the greatest number of digits in the fraction of a time stamp: 6
	// or 9.
	StampDigits int
	Interfaces  []string // in order of appearance
	Remarks     []Remark
}
