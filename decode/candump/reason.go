package candump

// reason says why a line was rejected; accepted is the zero value.
type reason uint8

const (
	accepted reason = iota
	notALine
	notText
	tooLong
	cutByFault
	stampNegative
	stampNoNumber
	stampNoFraction
	stampFraction
	stampDigits
	stampUnclosed
	stampTooLarge
	stampDateWrong
	stampMissing
	stampOtherKind
	stampUnexpected
	stampNoDelta
	timeTooLarge
	logNoStamp
	nameMissing
	nameNotText
	nameTooLong
	frameMissing
	idDigits
	idAbove11
	idAbove29
	canXL
	errorFrameKind
	notHex
	oddDigits
	classicTooLong
	fdNoFlags
	fdLength
	fdNoCode
	remoteLength
	lengthCode
	lengthCodeNeeds8
	afterFrame
	directionColumns
	lengthMissing
	lengthWrong
	lengthDiffers
	byteSwapped
	binaryPayload
	fdRemote
	quoteOpen
	quoteText
	notErrorFrame
	dropNumber
	reasonCount
)

// reasonText words each reason for someone who holds the log in an editor.
var reasonText = [reasonCount]string{
	accepted:         "accepted",
	notALine:         "not a line of a candump log",
	notText:          "a byte that is no text: the file is damaged, binary or UTF-16",
	tooLong:          "a line longer than 64 KiB",
	cutByFault:       "reading failed within this line",
	stampNegative:    "a negative time stamp",
	stampNoNumber:    "the time stamp is no number of seconds and no date",
	stampNoFraction:  "the time stamp has no fraction of a second",
	stampFraction:    "the fraction of the time stamp has more than nine digits",
	stampDigits:      "the fraction of the time stamp has lost or gained digits",
	stampUnclosed:    "the time stamp does not end with a bracket and a blank",
	stampTooLarge:    "the time stamp is beyond the year 2262",
	stampDateWrong:   "the time stamp is no date such as 2016-07-25 09:24:34.299654 from 1970 on",
	stampMissing:     "no time stamp, though the log has them",
	stampOtherKind:   "a time stamp of another kind than the log's others",
	stampUnexpected:  "a time stamp, though the log began without",
	stampNoDelta:     "a time stamp of ten digits is no time since the line before, as --stamps delta asks",
	timeTooLarge:     "the times since the line before add up to more than 292 years",
	logNoStamp:       "no time stamp before a frame in log form",
	nameMissing:      "no interface name",
	nameNotText:      "the interface name is no plain text",
	nameTooLong:      "the interface name is longer than 64 bytes",
	frameMissing:     "the line ends before the frame",
	idDigits:         "an identifier has three or eight hexadecimal digits",
	idAbove11:        "an identifier of three digits is at most 7FF",
	idAbove29:        "an identifier of eight digits is at most 1FFFFFFF, or that of an error frame",
	canXL:            "a CAN XL frame, which lull does not read",
	errorFrameKind:   "an error frame is neither a remote request nor CAN FD",
	notHex:           "a character that is no hexadecimal digit",
	oddDigits:        "an odd number of hexadecimal digits",
	classicTooLong:   "more than 8 bytes in a classic frame",
	fdNoFlags:        "no flags digit after ##",
	fdLength:         "a length that CAN FD does not have (0 to 8, 12, 16, 20, 24, 32, 48, 64)",
	fdNoCode:         "a raw length code on a CAN FD frame",
	remoteLength:     "the length of a remote request is at most 8",
	lengthCode:       "a raw length code is one digit from 9 to F",
	lengthCodeNeeds8: "a raw length code on a frame whose length is not 8",
	afterFrame:       "more text after the frame",
	directionColumns: "RX or TX without its two columns",
	lengthMissing:    "no length in brackets after the identifier",
	lengthWrong:      "the length in brackets is no length of a CAN frame",
	lengthDiffers:    "the length in brackets is not the number of bytes",
	byteSwapped:      "a byte-swapped payload (candump -S): record without -S",
	binaryPayload:    "a payload in binary digits (candump -i): record without -i",
	fdRemote:         "a remote request cannot be CAN FD",
	quoteOpen:        "the text after the payload has no closing quote",
	quoteText:        "a character in the quoted text that candump does not write",
	notErrorFrame:    "ERRORFRAME behind an identifier that is none",
	dropNumber:       "dropped frames reported without their number",
}

func (r reason) String() string { return reasonText[r] }
