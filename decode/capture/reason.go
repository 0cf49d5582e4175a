package capture

// reason is why a packet was rejected. The zero value is accepted.
type reason uint8

const (
	accepted reason = iota
	cutShort
	cutByFault
	framing
	sectionVersion
	packetTooLong
	beyondBlock
	noInterface
	noTime
	timeUnit
	timeFraction
	timeRange
	headerShort
	snapped
	canXL
	idAbove11
	errorFrameKind
	fdRemote
	fdLength
	classicTooLong
	remoteLength
	lengthBeyond
	reasonCount
)

// reasonText describes each reason to someone who has the capture open in Wireshark.
var reasonText = [reasonCount]string{
	accepted:       "accepted",
	cutShort:       "the capture ends within this packet",
	cutByFault:     "reading failed within this packet",
	framing:        "contradictory lengths: the capture is damaged from here on",
	sectionVersion: "a section of an unknown pcapng version begins here",
	packetTooLong:  "a packet far longer than any CAN frame",
	beyondBlock:    "a packet longer than the block that contains it",
	noInterface:    "a packet of an interface that the capture does not describe",
	noTime:         "a packet without a time stamp (a simple packet block)",
	timeUnit:       "unsupported time resolution of the interface",
	timeFraction:   "the fraction of the time stamp is a second or more",
	timeRange:      "the time stamp is not between the years 1970 and 2262",
	headerShort:    "a packet too short for a CAN frame",
	snapped:        "the payload was truncated by the capture: capture with a larger snapshot length",
	canXL:          "a CAN XL frame, which lull does not read",
	idAbove11:      "an 11-bit identifier above 7FF",
	errorFrameKind: "an error frame cannot be a remote request or CAN FD",
	fdRemote:       "a remote request cannot be CAN FD",
	fdLength:       "a length that is not possible in CAN FD (0 to 8, 12, 16, 20, 24, 32, 48, 64)",
	classicTooLong: "more than 8 bytes in a classic frame",
	remoteLength:   "the length of a remote request cannot be above 8",
	lengthBeyond:   "a length beyond the end of the packet",
}

func (r reason) String() string { return reasonText[r] }
