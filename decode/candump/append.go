package candump

import (
	"strconv"

	"lull/decode"
)

// AppendFrame appends the frame as one line in log form, including the newline. A Reader
// reads it back as the same frame, except for Line. Time is written as absolute seconds,
// with six decimals if that is exact, else with nine; a time before 1970, which the form
// cannot represent, is written as 0. Bytes that the form cannot represent in an interface
// name become underscores, and so does an empty name.
func AppendFrame(dst []byte, f *decode.Frame) []byte {
	t := max(f.Time, 0)
	dst = append(dst, '(')
	dst = appendDigits(dst, uint64(t/1_000_000_000), absoluteDigits)
	dst = append(dst, '.')
	if t%1000 == 0 {
		dst = appendDigits(dst, uint64(t%1_000_000_000/1000), 6)
	} else {
		dst = appendDigits(dst, uint64(t%1_000_000_000), 9)
	}
	dst = append(dst, ')', ' ')
	dst = appendName(dst, f.Bus)
	dst = append(dst, ' ')
	switch {
	case f.Flags.Has(decode.Error):
		dst = appendHex(dst, f.ID&idMask|errorBit, 8)
	case f.Flags.Has(decode.Extended):
		dst = appendHex(dst, f.ID, 8)
	default:
		dst = appendHex(dst, f.ID, 3)
	}
	dst = append(dst, '#')
	switch {
	case f.Flags.Has(decode.FD):
		flags := uint32(fdFDF)
		if f.Flags.Has(decode.BitRateSwitch) {
			flags |= fdBRS
		}
		if f.Flags.Has(decode.ErrorStateIndicator) {
			flags |= fdESI
		}
		dst = appendHex(append(dst, '#'), flags, 1)
	case f.Flags.Has(decode.Remote):
		dst = append(dst, 'R')
		if f.Len > 0 {
			dst = append(dst, '0'+f.Len)
		}
	}
	for _, b := range f.Payload() {
		dst = append(dst, upperHex[b>>4], upperHex[b&15])
	}
	if f.RawDLC > 8 {
		dst = append(dst, '_', upperHex[f.RawDLC&15])
	}
	switch {
	case f.Flags.Has(decode.Transmitted):
		dst = append(dst, ' ', 'T')
	case f.Flags.Has(decode.Received):
		dst = append(dst, ' ', 'R')
	}
	return append(dst, '\n')
}

const upperHex = "0123456789ABCDEF"

func appendHex(dst []byte, v uint32, digits int) []byte {
	for d := digits - 1; d >= 0; d-- {
		dst = append(dst, upperHex[v>>(4*d)&15])
	}
	return dst
}

func appendDigits(dst []byte, v uint64, digits int) []byte {
	var b [20]byte
	text := strconv.AppendUint(b[:0], v, 10)
	for n := len(text); n < digits; n++ {
		dst = append(dst, '0')
	}
	return append(dst, text...)
}

func appendName(dst []byte, name string) []byte {
	if name == "" {
		return append(dst, '_')
	}
	for i := range len(name) {
		if c := name[i]; c <= ' ' || c == 0x7F || c == '#' {
			dst = append(dst, '_')
			continue
		}
		dst = append(dst, name[i])
	}
	return dst
}

// AppendDropped appends the line with which `candump -d` reports that frames of an
// interface were lost before they could be written, and how many in total. A Reader turns
// it into a remark.
func AppendDropped(dst []byte, bus string, count, total int64) []byte {
	dst = append(dst, "DROPCOUNT: dropped "...)
	dst = strconv.AppendInt(dst, count, 10)
	dst = append(dst, " CAN frames on '"...)
	dst = appendName(dst, bus)
	dst = append(dst, "' socket (total drops "...)
	dst = strconv.AppendInt(dst, total, 10)
	return append(dst, ")\n"...)
}
