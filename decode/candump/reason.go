package candump

// reason is why a line was rejected. The zero value is accepted.
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

// NotALine is the Why of the Place of a line that does not look like one of candump's.
const NotALine = "not a line of a candump log"

// reasonText describes each reason to someone who has the log open in an editor.
var reasonText = [reasonCount]string{
	accepted:         "accepted",
	notALine:         NotALine,
	notText:          "a byte that is not text: the file is damaged, binary or UTF-16",
	tooLong:          "a line longer than 64 KiB",
	cutByFault:       "reading failed within this line",
	stampNegative:    "a negative time stamp",
	stampNoNumber:    "the time stamp is neither a number of seconds nor a date",
	stampNoFraction:  "the time stamp has no fraction of a second",
	stampFraction:    "the fraction of the time stamp has more than nine digits",
	stampDigits:      "the fraction of the time stamp has lost or gained digits",
	stampUnclosed:    "the time stamp does not end with a bracket and a space",
	stampTooLarge:    "the time stamp is beyond the year 2262",
	stampDateWrong:   "the time stamp is not a valid date from 1970 on, such as 2016-07-25 09:24:34.299654",
	stampMissing:     "no time stamp, although the log has time stamps",
	stampOtherKind:   "a time stamp of a different kind from the others in the log",
	stampUnexpected:  "a time stamp, although the log began without time stamps",
	stampNoDelta:     "a time stamp of ten digits, which cannot be the time since the previous line, as --stamps delta says",
	timeTooLarge:     "the times between the lines add up to more than 292 years",
	logNoStamp:       "no time stamp before a frame in the form of candump -l",
	nameMissing:      "no interface name",
	nameNotText:      "the interface name is not plain text",
	nameTooLong:      "the interface name is longer than 64 bytes",
	frameMissing:     "the line ends before the frame",
	idDigits:         "an identifier that does not have three or eight hexadecimal digits",
	idAbove11:        "an identifier of three digits above 7FF",
	idAbove29:        "an identifier of eight digits above 1FFFFFFF that is not that of an error frame",
	canXL:            "a CAN XL frame, which lull does not read",
	errorFrameKind:   "an error frame cannot be a remote request or CAN FD",
	notHex:           "a character that is not a hexadecimal digit",
	oddDigits:        "an odd number of hexadecimal digits",
	classicTooLong:   "more than 8 bytes in a classic frame",
	fdNoFlags:        "no flags digit after ##",
	fdLength:         "a length that is not possible in CAN FD (0 to 8, 12, 16, 20, 24, 32, 48, 64)",
	fdNoCode:         "a raw length code on a CAN FD frame",
	remoteLength:     "the length of a remote request cannot be above 8",
	lengthCode:       "a raw length code that is not one digit from 9 to F",
	lengthCodeNeeds8: "a raw length code on a frame whose length is not 8",
	afterFrame:       "more text after the frame",
	directionColumns: "RX or TX without its two columns",
	lengthMissing:    "no length in brackets after the identifier",
	lengthWrong:      "the length in brackets is not a possible length of a CAN frame",
	lengthDiffers:    "the length in brackets differs from the number of bytes",
	byteSwapped:      "a byte-swapped payload (candump -S): record without -S",
	binaryPayload:    "a payload in binary digits (candump -i): record without -i",
	fdRemote:         "a remote request cannot be CAN FD",
	quoteOpen:        "the text after the payload has no closing quote",
	quoteText:        "a character in the quoted text that candump does not write",
	notErrorFrame:    "ERRORFRAME after an identifier that is not that of an error frame",
	dropNumber:       "a report of dropped frames without their number",
}

func (r reason) String() string { return reasonText[r] }
