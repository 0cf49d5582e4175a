package differential

import (
	"encoding/hex"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
	"lull/decode/sigmap"
	"lull/pkg/oracle"
)

// aField is a field in a payload, as described by a map.
type aField struct {
	Payload string `json:"payload"`
	Start   int    `json:"start"`
	Length  int    `json:"length"`
	Big     bool   `json:"big"`
	Kind    string `json:"kind"` // u, s or f, as bitstruct names them
	Factor  string `json:"factor"`
	Offset  string `json:"offset"`
}

// aValue is the value of a field. None means that the payload is too short, or that the value
// is not a finite number.
type aValue struct {
	None  bool    `json:"none"`
	Raw   string  `json:"raw"`
	Value float64 `json:"value"`
	// Exact reports that Value is at most 2^53 units of its last decimal, so that only the
	// nearest float64 is acceptable.
	Exact bool `json:"exact"`
}

// fieldScript unpacks each field with bitstruct, which knows only one order of bits, that of
// transmission. A little-endian field is contiguous in the payload written backwards. Scaling
// is done with fractions.
const fieldScript = `
import bitstruct, json, math, sys
from decimal import Decimal
from fractions import Fraction
answer = []
for f in json.load(sys.stdin):
    payload, none = bytes.fromhex(f["payload"]), dict(none=True)
    start, length = f["start"], f["length"]
    if f["big"]:
        before = start // 8 * 8 + 7 - start % 8
    else:
        before = 8 * len(payload) - start - length
        payload = payload[::-1]
    if before < 0 or before + length > 8 * len(payload):
        answer.append(none)
        continue
    padding = "p%d" % before if before else ""
    raw = number = bitstruct.unpack(padding + f["kind"] + str(length), payload)[0]
    if f["kind"] == "f":
        raw = bitstruct.unpack(padding + "s" + str(length), payload)[0] if length == 64 else bitstruct.unpack(padding + "u" + str(length), payload)[0]
        if not math.isfinite(number):
            answer.append(none)
            continue
    value = Fraction(number) * Fraction(Decimal(f["factor"])) + Fraction(Decimal(f["offset"]))
    digits = max(0, -Decimal(f["factor"]).as_tuple().exponent, -Decimal(f["offset"]).as_tuple().exponent)
    units = value * 10 ** digits
    try:
        answer.append(dict(raw=str(raw), value=float(value), exact=units.denominator == 1 and abs(units) <= 2 ** 53))
    except OverflowError:
        answer.append(none)
json.dump(answer, sys.stdout)
`

// anyField returns a random field of 1 to 64 bits in a payload, which now and then is too short
// for it.
func anyField(rng *rand.Rand) (aField, decode.Frame) {
	frame := decode.Frame{Bus: "can0", Flags: decode.Extended, Len: fdLengths[1+rng.IntN(len(fdLengths)-1)]}
	if rng.IntN(2) == 0 {
		frame.Len = 8
	}
	if frame.Len > 8 {
		frame.Flags |= decode.FD
	}
	bits := 8 * int(frame.Len)
	f := aField{Length: 1 + rng.IntN(min(64, bits)), Big: rng.IntN(2) == 0, Kind: []string{"u", "s"}[rng.IntN(2)]}
	if rng.IntN(5) == 0 && bits >= 32 {
		f.Kind, f.Length = "f", 32
		if bits >= 64 && rng.IntN(2) == 0 {
			f.Length = 64
		}
	}
	first := rng.IntN(bits - f.Length + 1)
	f.Start = first
	if f.Big { // the same run of bits, counted from the most significant bit of byte 0
		f.Start = first/8*8 + 7 - first%8
	}
	for i := range frame.Len {
		frame.Data[i] = byte(rng.Uint32())
		if rng.IntN(4) == 0 {
			frame.Data[i] = []byte{0, 0xFF, 0x80, 0x7F}[rng.IntN(4)]
		}
	}
	if f.Kind == "f" && f.Length == 32 && rng.IntN(2) == 0 && first%8 == 0 {
		// Use a number that modules might send, which random bits seldom are.
		pattern := math.Float32bits(float32(rng.IntN(200_000)-100_000) / 8)
		for i := range 4 {
			shift := 8 * i
			if f.Big {
				shift = 24 - shift
			}
			frame.Data[first/8+i] = byte(pattern >> shift)
		}
	}
	if rng.IntN(20) == 0 {
		frame.Len = uint8(rng.IntN(int(min(frame.Len, 8))))
		frame.Flags &^= decode.FD
		clear(frame.Data[frame.Len:])
	}
	f.Payload = hex.EncodeToString(frame.Payload())
	f.Factor, f.Offset = anyDecimal(rng, "1"), "0"
	if rng.IntN(2) == 0 {
		f.Offset = anyDecimal(rng, "-40")
	}
	return f, frame
}

// anyDecimal returns the usual decimal or any other except 0.
func anyDecimal(rng *rand.Rand, usual string) string {
	switch rng.IntN(4) {
	case 0:
		return usual
	case 1:
		return []string{"0.25", "0.05", "0.1", "0.0078125", "-0.01", "1e-3", "100", "0.00390625"}[rng.IntN(8)]
	}
	text := fmt.Sprintf("%d.%0*d", rng.IntN(300), 1+rng.IntN(6), 1+rng.IntN(9))
	if rng.IntN(4) == 0 {
		return "-" + text
	}
	return text
}

func TestFieldsReadAsBitstructReadsThem(t *testing.T) {
	const cases = 4000
	rng := rand.New(rand.NewPCG(4, 4))
	var list []aField
	var frames []decode.Frame
	var source strings.Builder
	source.WriteString("format: 1\nframes:\n  - {id: 0x7FF, signals: {rpm: {start: 0, length: 8, role: engine_speed, unit: rpm}}}\n")
	for i := range cases {
		f, frame := anyField(rng)
		frame.ID = uint32(i)
		list, frames = append(list, f), append(frames, frame)
		order := map[bool]string{false: "little", true: "big"}[f.Big]
		fmt.Fprintf(&source, "  - {id: %d, extended: true, signals: {s%d: {start: %d, length: %d, order: %s, factor: %s, offset: %s",
			i, i, f.Start, f.Length, order, f.Factor, f.Offset)
		switch f.Kind {
		case "s":
			source.WriteString(", signed: true")
		case "f":
			source.WriteString(", float: true")
		}
		source.WriteString("}}}\n")
	}
	m, err := sigmap.Parse("fields.yaml", []byte(source.String()))
	if err != nil {
		t.Fatal(err)
	}
	var want []aValue
	oracle.Python(t, "bitstruct", "python3-bitstruct", fieldScript, list, &want)
	if len(want) != cases {
		t.Fatalf("%d answers of %d", len(want), cases)
	}
	d := decode.NewDecoder(m)
	none, exact := 0, 0
	for i := range list {
		samples := d.Decode(&frames[i])
		if len(samples) != 1 {
			t.Fatalf("%+v: %d samples", list[i], len(samples))
		}
		s := samples[0]
		got := aValue{None: !s.Valid}
		if s.Valid {
			got = aValue{Raw: strconv.FormatInt(s.Raw, 10), Value: s.Value, Exact: want[i].Exact}
			if list[i].Kind == "u" {
				got.Raw = strconv.FormatUint(uint64(s.Raw), 10)
			}
			if w := want[i].Value; !want[i].Exact && (s.Value == math.Nextafter(w, math.Inf(1)) || s.Value == math.Nextafter(w, math.Inf(-1))) {
				got.Value = w // within one unit in the last place
			}
		}
		if diff := cmp.Diff(want[i], got); diff != "" {
			t.Errorf("%+v (-bitstruct +lull):\n%s", list[i], diff)
		}
		if want[i].None {
			none++
		} else if want[i].Exact {
			exact++
		}
	}
	if none < cases/100 || exact < cases/4 {
		t.Errorf("%d of %d fields are none and %d are exact: too few to tell anything", none, cases, exact)
	}
}
