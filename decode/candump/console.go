package candump

import (
	"bytes"

	"lull/decode"
)

// parseConsoleFrame parses the part of the console form after the interface name: direction
// columns, identifier, length in brackets, payload, and trailing text.
func parseConsoleFrame(line []byte, i int, f *decode.Frame) (why reason, at int) {
	if why, i = parseColumns(line, i, f); why != accepted {
		return why, i
	}
	start := i
	var id uint32
	for i < len(line) && hex[line[i]] != 0xFF && i-start < 9 {
		id = id<<4 | uint32(hex[line[i]])
		i++
	}
	if i < len(line) && !isBlank(line[i]) {
		return idDigits, start
	}
	if why, i = setID(line, start, i, id, f); why != accepted {
		return why, i
	}
	i = skipBlanks(line, i)
	bracket := i
	length, i, why := parseLength(line, i, f)
	if why != accepted {
		return why, i
	}
	if i < len(line) && !isBlank(line[i]) {
		return lengthWrong, i
	}
	i = skipBlanks(line, i)
	if rest, ok := bytes.CutPrefix(line[i:], []byte("remote request")); ok {
		return consoleRemote(line, i, len(line)-len(rest), length, f)
	}
	if why, i = parseSpacedBytes(line, i, f); why != accepted {
		return why, i
	}
	if int(f.Len) != length {
		return lengthDiffers, bracket
	}
	if !f.Flags.Has(decode.FD) {
		f.Flags &^= decode.BitRateSwitch | decode.ErrorStateIndicator
	}
	return parseTail(line, i, f)
}

// parseColumns parses the columns of `candump -x`: RX or TX, then B or - for the bit rate
// switch and E or - for the error state indicator.
func parseColumns(line []byte, i int, f *decode.Frame) (reason, int) {
	if i+1 >= len(line) || line[i+1] != 'X' || line[i] != 'R' && line[i] != 'T' {
		return accepted, i
	}
	if line[i] == 'R' {
		f.Flags |= decode.Received
	} else {
		f.Flags |= decode.Transmitted
	}
	i += 2
	for _, column := range [2]struct {
		on   byte
		flag decode.Flags
	}{{'B', decode.BitRateSwitch}, {'E', decode.ErrorStateIndicator}} {
		next := skipBlanks(line, i)
		if next == i || next == len(line) || next+1 < len(line) && !isBlank(line[next+1]) {
			return directionColumns, next
		}
		switch line[next] {
		case column.on:
			f.Flags |= column.flag
		case '-':
		case 'S', 'R': // the columns of CAN XL
			return canXL, next
		default:
			return directionColumns, next
		}
		i = next + 1
	}
	return accepted, skipBlanks(line, i)
}

// parseLength parses [8], or [08] for CAN FD, or {B}, a length code in hexadecimal.
func parseLength(line []byte, i int, f *decode.Frame) (length, at int, why reason) {
	if i == len(line) || line[i] != '[' && line[i] != '{' {
		return 0, i, lengthMissing
	}
	if line[i] == '{' {
		if i+2 >= len(line) || hex[line[i+1]] == 0xFF || line[i+2] != '}' {
			return 0, i, lengthWrong
		}
		code := hex[line[i+1]]
		if code > 8 {
			f.RawDLC = code
		}
		return min(int(code), 8), i + 3, accepted
	}
	start := i
	for i++; i < len(line) && line[i]-'0' <= 9 && i-start < 5; i++ {
		length = length*10 + int(line[i]-'0')
	}
	digits := i - start - 1
	if i == len(line) || line[i] != ']' || digits == 0 {
		return 0, start, lengthWrong
	}
	i++
	switch digits {
	case 1:
		if length > 8 {
			return 0, start, classicTooLong
		}
	case 2:
		if length > decode.MaxPayload || !fdLengths[length] {
			return 0, start, fdLength
		}
		if f.Flags.Has(decode.Error) {
			return 0, start, errorFrameKind
		}
		f.Flags |= decode.FD
	case 4:
		return 0, start, canXL
	default:
		return 0, start, lengthWrong
	}
	return length, i, accepted
}

// consoleRemote finishes a line that says "remote request".
func consoleRemote(line []byte, start, i, length int, f *decode.Frame) (reason, int) {
	switch {
	case f.Flags.Has(decode.FD):
		return fdRemote, start
	case f.Flags.Has(decode.Error):
		return errorFrameKind, start
	}
	f.Flags &^= decode.BitRateSwitch | decode.ErrorStateIndicator
	f.Flags |= decode.Remote
	f.Len = uint8(length)
	return atEnd(line, i)
}

var errorWord = []byte("ERRORFRAME")

// parseSpacedBytes parses bytes separated by blanks, up to the end of the line or the
// beginning of a trailing text.
func parseSpacedBytes(line []byte, i int, f *decode.Frame) (reason, int) {
	n := 0
	for ; i < len(line) && line[i] != '\'' && !bytes.HasPrefix(line[i:], errorWord); i = skipBlanks(line, i) {
		end := i
		for end < len(line) && !isBlank(line[end]) {
			end++
		}
		if why, at := checkByte(line, i, end); why != accepted {
			return why, at
		}
		if n == decode.MaxPayload {
			return lengthDiffers, i
		}
		f.Data[n] = hex[line[i]]<<4 | hex[line[i+1]]
		n++
		i = end
	}
	f.Len = uint8(n)
	return accepted, i
}

// checkByte accepts a word of two hexadecimal digits and returns the reason against any
// other.
func checkByte(line []byte, start, end int) (reason, int) {
	word := line[start:end]
	if bytes.IndexByte(word, '`') >= 0 {
		return byteSwapped, start
	}
	if len(word) == 8 && len(bytes.Trim(word, "01")) == 0 {
		return binaryPayload, start
	}
	for k, c := range word {
		if hex[c] == 0xFF {
			return notHex, start + k
		}
	}
	if len(word) != 2 {
		if len(word)%2 == 1 {
			return oddDigits, end - 1
		}
		return notHex, start + 2
	}
	return accepted, end
}

// parseTail parses what may follow the payload: ERRORFRAME, or the payload as text in
// quotes (candump -a), which may contain quotes itself.
func parseTail(line []byte, i int, f *decode.Frame) (reason, int) {
	if i == len(line) {
		return accepted, i
	}
	if line[i] == '\'' {
		end := len(bytes.TrimRight(line, " \t\r"))
		if end-1 <= i || line[end-1] != '\'' {
			return quoteOpen, i
		}
		for k, c := range line[i:end] {
			if c < ' ' || c > '~' { // for these candump writes a dot
				return quoteText, i + k
			}
		}
		return accepted, end
	}
	if !f.Flags.Has(decode.Error) {
		return notErrorFrame, i
	}
	return atEnd(line, i+len(errorWord))
}
