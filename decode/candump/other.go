package candump

import "bytes"

// blankColours overwrites ANSI colour codes (candump -c) with blanks, so that columns stay
// the same as in the file. It reports whether there were any.
func blankColours(line []byte) bool {
	found := false
	for i := 0; i < len(line); i++ {
		if line[i] != 0x1B || i+1 == len(line) || line[i+1] != '[' {
			continue
		}
		end := i + 2
		for end < len(line) && (line[end] >= '0' && line[end] <= '9' || line[end] == ';') {
			end++
		}
		if end == len(line) || line[end] != 'm' {
			continue
		}
		for ; i <= end; i++ {
			line[i] = ' '
		}
		i--
		found = true
	}
	return found
}

// noTextAt returns the index of the first byte that does not occur in text, or -1.
func noTextAt(line []byte) int {
	for i, c := range line {
		if c < ' ' && c != '\t' && c != '\r' && c != 0x1B && c != '\f' && c != '\v' {
			return i
		}
	}
	return -1
}

// errorWords are the beginnings of the lines that `candump -e` prints below an error frame
// (snprintf_can_error_frame in lib.c).
var errorWords = [][]byte{
	[]byte("tx-timeout"), []byte("lost-arbitration"), []byte("controller-problem"),
	[]byte("protocol-violation"), []byte("transceiver-status"), []byte("no-acknowledgement-on-tx"),
	[]byte("bus-off"), []byte("bus-error"), []byte("restarted-after-bus-off"), []byte("error-counter-tx-rx"),
}

// isContinuation reports whether an indented text belongs to the error frame above it.
// candump indents with a tab. If an editor has replaced it by blanks, the first words
// decide.
func isContinuation(indent, text []byte) bool {
	if bytes.IndexByte(indent, '\t') >= 0 {
		return true
	}
	if len(indent) == 0 {
		return false
	}
	for _, w := range errorWords {
		if bytes.HasPrefix(text, w) {
			return true
		}
	}
	return false
}

// dropCount parses the number in a line such as
//
//	DROPCOUNT: dropped 5 CAN frames on 'can0' socket (total drops 5)
//
// at is the place where parsing failed, or -1.
func dropCount(text []byte) (n int64, at int) {
	const before = "DROPCOUNT: dropped "
	if !bytes.HasPrefix(text, []byte(before)) {
		return 0, len("DROPCOUNT")
	}
	i := len(before)
	for ; i < len(text) && text[i]-'0' <= 9; i++ {
		if n = n*10 + int64(text[i]-'0'); n > 1<<32 {
			return 0, len(before) // candump counts in 32 bits
		}
	}
	if i == len(before) || !bytes.HasPrefix(text[i:], []byte(" CAN frame")) {
		return 0, i
	}
	return n, -1
}
