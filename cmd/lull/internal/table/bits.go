package table

import (
	"strconv"
	"strings"

	"lull/analyze/census"
	"lull/decode"
)

// bitsText writes which bits change: whole bytes by their number, runs of them
// and of bits with a hyphen.
func bitsText(x *census.ID) string {
	if x.Count == 0 {
		return "-"
	}
	if len(x.Changing) == 0 {
		return "none"
	}
	var whole [decode.MaxPayload]byte
	for _, bit := range x.Changing {
		whole[bit/8] |= 1 << (bit % 8)
	}
	var parts []string
	for i := 0; i < len(whole); i++ {
		switch whole[i] {
		case 0:
		case 0xFF:
			last := i
			for last+1 < len(whole) && whole[last+1] == 0xFF {
				last++
			}
			parts = append(parts, run(i, last))
			i = last
		default:
			parts = append(parts, strconv.Itoa(i)+":"+bitRuns(whole[i]))
		}
	}
	return strings.Join(parts, " ")
}

func bitRuns(b byte) string {
	var parts []string
	for bit := 0; bit < 8; bit++ {
		last := bit
		for last < 8 && b>>last&1 == 1 {
			last++
		}
		if last > bit {
			parts = append(parts, run(bit, last-1))
			bit = last
		}
	}
	return strings.Join(parts, ",")
}

func run(first, last int) string {
	if first == last {
		return strconv.Itoa(first)
	}
	return strconv.Itoa(first) + "-" + strconv.Itoa(last)
}
