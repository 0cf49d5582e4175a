// Package decode is lull's vocabulary for what a log holds: frames, the signal
// map, the samples that the map makes of the frames, and the Decoder that does
// so. It opens no file and knows no text format; those live in the packages
// below it (candump, sigmap). Start with Map and Decoder.
package decode

// Flags says what kind of CAN frame a Frame is.
type Flags uint16

const (
	Extended            Flags = 1 << iota // 29-bit identifier
	Remote                                // remote request: no payload
	Error                                 // error frame written by the interface, not a frame on the bus
	FD                                    // CAN FD frame
	BitRateSwitch                         // FD: the payload was sent at the higher rate
	ErrorStateIndicator                   // FD: the sender was error passive
	Received                              // the log says that the interface received it
	Transmitted                           // the log says that the interface sent it
)

// Has reports whether all of the given flags are set.
func (f Flags) Has(want Flags) bool { return f&want == want }

// MaxPayload is the payload of the longest CAN FD frame in bytes.
const MaxPayload = 64

// Frame is one line or packet of a log. A reader owns the Frame that it hands
// out until the next one is read; Clone keeps it.
type Frame struct {
	// Time in nanoseconds: since the Unix epoch where the log's stamps are
	// dates, else since the log's own zero. An int64 because a float64 of
	// seconds since 1970 moves in steps of 238 ns.
	Time int64
	// Line is the line, or in a capture the packet, counted from 1.
	Line int64
	// Bus is the interface's name. Equal names share one string.
	Bus string
	// ID without flag bits: 11 bits, or 29 with Extended. Of an error frame it
	// holds the error class bits.
	ID    uint32
	Flags Flags
	// Len is the number of payload bytes in Data; of a remote frame the length
	// that it asks for.
	Len uint8
	// RawDLC is the length code 9 to 15 of a classic frame of eight bytes, where
	// the log tells it; else 0.
	RawDLC uint8
	// Skipped is how many frames a reader passed over by a Filter just before this
	// one, so close to it and to each other that only their number matters: none
	// ran back, and all lie within PassedStep. Others are told by Passed.
	Skipped uint32
	Data    [MaxPayload]byte
}

// Payload returns the payload bytes. It aliases the frame.
func (f *Frame) Payload() []byte {
	if f.Flags.Has(Remote) {
		return nil
	}
	return f.Data[:min(f.Len, MaxPayload)]
}

// Clone returns a copy that stays valid after the reader moves on.
func (f *Frame) Clone() *Frame {
	c := *f
	return &c
}

// Place is one spot in a log: line and byte column, both from 1, and what is
// wrong there. Column 0 means that no column applies.
type Place struct {
	Line   int64
	Column int64
	Why    string
}

// Remark is something about a log that the reader of a result should know. The
// codes are those of the JSON format; remarks of one code are gathered into one.
type Remark struct {
	Code  string
	Count int64
	Line  int64 // the first place, 0 where none applies
	// Time of the first place, as Frame.Time; HasTime tells whether it is known.
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
	RemarkOtherPackets      = "other_packets" // a capture's packets of other interfaces than CAN
)

// Stamps is how a log's time stamps are to be read.
type Stamps uint8

const (
	StampsUnknown  Stamps = iota // nothing read yet
	StampsAbsolute               // seconds since the Unix epoch, UTC
	StampsDate                   // date and time of day without a zone
	StampsZero                   // seconds since the log's own start
	StampsDelta                  // seconds since the line before
	StampsNone                   // no times: nothing can be measured
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

// Info is what a reader counted on its way through a log. Accepted + Rejected +
// Blank + Comments + Remarked = Lines holds at any moment.
type Info struct {
	Bytes    int64
	Lines    int64
	Accepted int64 // frames of every kind
	Rejected int64
	Blank    int64
	Comments int64
	Remarked int64 // lines that are no frames but are reported, such as drop counts

	ErrorFrames  int64
	RemoteFrames int64

	Stamps Stamps
	// StampDigits is the longest fraction seen in a stamp: 6 or 9.
	StampDigits int
	Interfaces  []string // in order of appearance
	Remarks     []Remark
}
