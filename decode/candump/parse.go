package candump

import "lull/decode"

// hex maps a hexadecimal digit of either case to its value, and other bytes to 0xFF.
var hex = func() (t [256]uint8) {
	for i := range t {
		t[i] = 0xFF
	}
	for i := range uint8(10) {
		t['0'+i] = i
	}
	for i := range uint8(6) {
		t['a'+i], t['A'+i] = 10+i, 10+i
	}
	return t
}()

const (
	errorBit = 0x20000000 // CAN_ERR_FLAG of linux/can.h
	idMask   = 0x1FFFFFFF
	// Bits of the flags digit of a CAN FD frame in log form, CANFD_* of linux/can.h.
	fdBRS = 1
	fdESI = 2
	fdFDF = 4
)

// parseLine parses one line, without its line end, into f. It keeps no state other than the
// interned interface names, so lines may be parsed in any order. It sets f.Time to the
// stamp as written, whose meaning the Reader decides, and leaves f.Line 0. For a rejected
// line, column is the byte, from 1, at which parsing failed, and s is the stamp if that
// part of the line was good.
func parseLine(line []byte, f *decode.Frame, names *names) (s stamp, why reason, column int) {
	*f = decode.Frame{}
	i := skipBlanks(line, 0)
	if i < len(line) && line[i] == '(' {
		if s, i, why = parseStamp(line, i); why != accepted {
			return stamp{}, why, i + 1
		}
		f.Time = s.ns
	}
	nameStart := skipBlanks(line, i)
	nameEnd := nameStart
	for nameEnd < len(line) && line[nameEnd] > ' ' {
		nameEnd++
	}
	name := line[nameStart:nameEnd]
	i = skipBlanks(line, nameEnd)
	if i == len(line) {
		why, i = noFrame(name, nameStart, nameEnd, s)
		return s, why, i + 1
	}

	start := i
	var id uint32
	for i < len(line) && hex[line[i]] != 0xFF && i-start < 9 {
		id = id<<4 | uint32(hex[line[i]])
		i++
	}
	if i < len(line) && line[i] == '#' {
		if s.kind == stampNone {
			return s, logNoStamp, nameStart + 1
		}
		if why, i = setID(line, start, i, id, f); why == accepted {
			why, i = parseLogFrame(line, i+1, f)
		}
	} else {
		why, i = parseConsoleFrame(line, start, f)
		if s.kind == stampNone && (why == idDigits || why == lengthMissing) {
			why = notALine
		}
	}
	if why != accepted {
		return s, why, i + 1
	}
	if f.Bus, why = names.intern(name); why != accepted {
		return s, why, nameStart + 1
	}
	return s, accepted, 0
}

// noFrame returns the reason and the place of the error in a line that ends before a frame.
func noFrame(name []byte, start, end int, s stamp) (reason, int) {
	switch {
	case s.kind == stampNone:
		return notALine, start
	case len(name) == 0:
		return nameMissing, start
	}
	for _, c := range name {
		if c == '#' {
			return nameMissing, start
		}
	}
	return frameMissing, end
}

// setID checks the identifier in line[start:end] and sets it and its flags in f.
func setID(line []byte, start, end int, id uint32, f *decode.Frame) (reason, int) {
	switch end - start {
	case 3:
		if id > 0x7FF {
			return idAbove11, start
		}
		f.ID = id
	case 8:
		switch {
		case id&errorBit != 0:
			f.ID, f.Flags = id&idMask, f.Flags|decode.Error
		case id > idMask:
			return idAbove29, start
		default:
			f.ID, f.Flags = id, f.Flags|decode.Extended
		}
	default:
		if end-start == 5 && isXL(line, end) {
			return canXL, start
		}
		return idDigits, start
	}
	return accepted, end
}

// isXL reports whether the five digits before line[i] are the beginning of a CAN XL frame
// in log form, such as 45123#81:00:12345678#1122.
func isXL(line []byte, i int) bool {
	return i+3 < len(line) && line[i] == '#' && hex[line[i+1]] != 0xFF && hex[line[i+2]] != 0xFF && line[i+3] == ':'
}

// parseLogFrame parses what follows the first # in the log form. Like the functions below,
// it returns the place where it stopped, or where parsing failed.
func parseLogFrame(line []byte, i int, f *decode.Frame) (why reason, at int) {
	switch {
	case i < len(line) && line[i] == '#':
		why, i = parseFD(line, i+1, f)
	case i < len(line) && (line[i] == 'R' || line[i] == 'r'):
		why, i = parseRemote(line, i+1, f)
	default:
		why, i = parseBytes(line, i, f, 8)
		if why == accepted {
			why, i = parseLengthCode(line, i, f)
		}
	}
	if why != accepted {
		return why, i
	}
	return parseDirection(line, i, f)
}

// parseFD parses the flags digit and the bytes of a CAN FD frame. It ignores the FD bit of
// the flags, since can-utils before 2025 did not set it.
func parseFD(line []byte, i int, f *decode.Frame) (reason, int) {
	if f.Flags.Has(decode.Error) {
		return errorFrameKind, i - 1
	}
	if i == len(line) || hex[line[i]] == 0xFF {
		return fdNoFlags, i
	}
	flags := hex[line[i]]
	f.Flags |= decode.FD
	if flags&fdBRS != 0 {
		f.Flags |= decode.BitRateSwitch
	}
	if flags&fdESI != 0 {
		f.Flags |= decode.ErrorStateIndicator
	}
	start := i + 1
	why, i := parseBytes(line, start, f, decode.MaxPayload)
	switch {
	case why != accepted:
		return why, i
	case !fdLengths[f.Len]:
		return fdLength, start
	case i < len(line) && line[i] == '_':
		return fdNoCode, i
	}
	return accepted, i
}

// fdLengths marks the payload lengths that CAN FD has (ISO 11898-1).
var fdLengths = [decode.MaxPayload + 1]bool{
	0: true, 1: true, 2: true, 3: true, 4: true, 5: true, 6: true, 7: true, 8: true,
	12: true, 16: true, 20: true, 24: true, 32: true, 48: true, 64: true,
}

// parseRemote parses the length of a remote request after its R.
func parseRemote(line []byte, i int, f *decode.Frame) (reason, int) {
	if f.Flags.Has(decode.Error) {
		return errorFrameKind, i - 1
	}
	f.Flags |= decode.Remote
	if i < len(line) && line[i] != '_' && line[i] > ' ' {
		n := line[i] - '0'
		if n > 8 {
			return remoteLength, i
		}
		f.Len = n
		i++
	}
	return parseLengthCode(line, i, f)
}

// parseBytes parses pairs of digits, which may be separated by dots.
func parseBytes(line []byte, i int, f *decode.Frame, most int) (reason, int) {
	n := 0
	for i+1 < len(line) {
		high, low := hex[line[i]], hex[line[i+1]]
		if high|low > 15 {
			break
		}
		if n == most {
			if most == 8 {
				return classicTooLong, i
			}
			return fdLength, i
		}
		f.Data[n] = high<<4 | low
		n++
		i += 2
		if i+1 < len(line) && line[i] == '.' && hex[line[i+1]] != 0xFF {
			i++
		}
	}
	f.Len = uint8(n)
	if i == len(line) || line[i] <= ' ' || line[i] == '_' {
		return accepted, i
	}
	if hex[line[i]] != 0xFF {
		if i+1 == len(line) || line[i+1] <= ' ' || line[i+1] == '_' || line[i+1] == '.' {
			return oddDigits, i
		}
		return notHex, i + 1
	}
	return notHex, i
}

// parseLengthCode parses an optional raw length code, such as _E, after a frame.
func parseLengthCode(line []byte, i int, f *decode.Frame) (reason, int) {
	if i == len(line) || line[i] != '_' {
		return accepted, i
	}
	if i+1 == len(line) || hex[line[i+1]] == 0xFF || hex[line[i+1]] < 9 {
		return lengthCode, min(i+1, len(line))
	}
	if f.Len != 8 {
		return lengthCodeNeeds8, i
	}
	f.RawDLC = hex[line[i+1]]
	return accepted, i + 2
}

// parseDirection parses the optional R or T of `candump -x` at the end of a line.
func parseDirection(line []byte, i int, f *decode.Frame) (reason, int) {
	if i < len(line) && line[i] > ' ' {
		return afterFrame, i
	}
	i = skipBlanks(line, i)
	if i == len(line) {
		return accepted, i
	}
	switch line[i] {
	case 'R', 'r':
		f.Flags |= decode.Received
	case 'T', 't':
		f.Flags |= decode.Transmitted
	default:
		return afterFrame, i
	}
	return atEnd(line, i+1)
}

// atEnd accepts a line if only blanks are left of it.
func atEnd(line []byte, i int) (reason, int) {
	if i = skipBlanks(line, i); i < len(line) {
		return afterFrame, i
	}
	return accepted, i
}

func skipBlanks(line []byte, i int) int {
	for i < len(line) && isBlank(line[i]) {
		i++
	}
	return i
}

func isBlank(c byte) bool { return c == ' ' || c == '\t' || c == '\r' }
