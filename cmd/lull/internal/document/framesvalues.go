package document

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"

	"lull/analyze/census"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/standard"
)

type byteJSON struct {
	Byte     int           `json:"byte"`
	Frames   int64         `json:"frames"`
	Least    uint8         `json:"least"`
	Most     uint8         `json:"most"`
	Values   int           `json:"values"`
	Changes  *float64      `json:"changes"`
	Flips    [8]int64      `json:"flips"`
	Looks    census.Looks  `json:"looks"`
	Counters []counterJSON `json:"counters"`
	Checksum *string       `json:"checksum"`
}

type counterJSON struct {
	Bit  int `json:"bit"`
	Bits int `json:"bits"`
	Step int `json:"step"`
}

type frameAnswerJSON struct {
	Bus      string   `json:"bus"`
	ID       string   `json:"id"`
	Extended bool     `json:"extended"`
	Service  int      `json:"service"`
	Number   *int     `json:"number"`
	Name     string   `json:"name"`
	Count    int64    `json:"count"`
	Refused  *int     `json:"refused"`
	Least    *float64 `json:"least"`
	Most     *float64 `json:"most"`
	Unit     *string  `json:"unit"`
}

type againstJSON struct {
	Logs        []framesLogJSON  `json:"logs"`
	Differences []differenceJSON `json:"differences"`
	LeftOut     leftOutJSON      `json:"left_out"`
}

type leftOutJSON struct {
	Counters    int `json:"counters"`
	Checksums   int `json:"checksums"`
	Pages       int `json:"pages"`
	Restless    int `json:"restless"`
	Identifiers int `json:"identifiers"`
}

type differenceJSON struct {
	Kind     string             `json:"kind"`
	Bus      *string            `json:"bus"`
	ID       string             `json:"id"`
	Extended bool               `json:"extended"`
	Byte     *int               `json:"byte"`
	Bit      *int               `json:"bit"`
	Bits     *int               `json:"bits"`
	Of       differenceSideJSON `json:"of"`
	Against  differenceSideJSON `json:"against"`
	// TopOf: the bit below it changes on both sides.
	TopOf bool `json:"top_of_number"`
	// Order of the two bytes of a number of 16 bits: little or big.
	Order *string `json:"order"`
}

type differenceSideJSON struct {
	Frames  int64   `json:"frames"`
	Least   *uint16 `json:"least"`
	Most    *uint16 `json:"most"`
	Changes *int64  `json:"changes"`
}

var checksumKeys = map[census.Check]string{
	census.CheckXOR: "xor", census.CheckSum: "sum", census.CheckSumZero: "sum_constant",
	census.CheckCRC1D: "crc8_1d", census.CheckCRC2F: "crc8_2f",
	census.CheckCRC1DKey: "crc8_1d_hidden_byte", census.CheckCRC2FKey: "crc8_2f_hidden_byte",
}

var differenceKeys = map[census.DifferenceKind]string{
	census.Switched: "switched", census.Toggled: "toggled", census.Missing: "missing", census.Ranged: "ranged",
}

var orderKeys = map[bool]string{false: "little", true: "big"}

// where is nil unless there is a value.
func where[A any](v A, known bool) *A {
	if !known {
		return nil
	}
	return &v
}

func bytesOf(x *census.ID) []byteJSON {
	out := make([]byteJSON, 0, len(x.Bytes))
	for i := range x.Bytes {
		b := &x.Bytes[i]
		j := byteJSON{
			Byte: i, Frames: b.Count, Least: b.Least(), Most: b.Most(), Values: b.Values(), Flips: b.Flips, Looks: b.Looks(),
			Counters: each(b.Counters, func(c census.CounterBits) counterJSON { return counterJSON{c.Low, c.Bits, c.Step} }),
			Checksum: where(checksumKeys[b.Check], b.Check != census.NoCheck),
		}
		if b.Pairs > 0 {
			j.Changes = number(float64(b.Changes) / float64(b.Pairs))
		}
		out = append(out, j)
	}
	return out
}

func frameAnswer(a census.Answer) frameAnswerJSON {
	j := frameAnswerJSON{
		Bus: a.Bus, ID: decode.FormatID(a.ID, a.Extended), Extended: a.Extended, Service: int(a.Service),
		Number: where(a.Number, a.Number >= 0), Name: words.AnswerName(&a), Count: a.Count, Refused: where(int(a.Code), a.Refused),
	}
	if least, most, unit, known := words.AnswerUnit(&a); known {
		j.Least, j.Most, j.Unit = number(least), number(most), &unit
	}
	return j
}

// groupOf is the number of the group of SAE J1939 that an identifier carries, null on
// another bus.
func groupOf(c *census.Result, x *census.ID) *uint32 {
	if _, known := standard.Diagnostic(x.ID, x.Extended); known || !x.Extended {
		return nil
	}
	for _, b := range c.Buses {
		if b.Name == x.Bus && b.J1939 {
			return where(decode.PGN(x.ID), true)
		}
	}
	return nil
}

func against(r *words.Frames) *againstJSON {
	d := r.Differences
	if d == nil {
		return nil
	}
	all := *r
	all.Only = nil
	return &againstJSON{
		Logs:        each(r.Against, func(l words.FramesLog) framesLogJSON { return framesLog(&all, l) }),
		Differences: each(wanted(r), difference),
		LeftOut:     leftOutJSON{d.Counters, d.Checksums, d.Pages, d.Restless, d.Uncounted},
	}
}

// wanted are the differences of the identifiers that were asked for.
func wanted(r *words.Frames) []census.Difference {
	var list []census.Difference
	for _, d := range r.Differences.List {
		if r.Wants(&census.ID{ID: d.ID, Extended: d.Extended}) {
			list = append(list, d)
		}
	}
	return list
}

func difference(d census.Difference) differenceJSON {
	field := d.Kind != census.Missing
	side := func(i int, r census.Range) differenceSideJSON {
		return differenceSideJSON{d.Frames[i], where(r.Least, field), where(r.Most, field), where(d.Changes[i], field)}
	}
	return differenceJSON{
		Kind: differenceKeys[d.Kind], Bus: where(d.Bus, d.Bus != ""), ID: decode.FormatID(d.ID, d.Extended), Extended: d.Extended,
		Byte: where(d.Byte, field), Bit: where(d.Low, field), Bits: where(d.Bits, field),
		Of: side(0, d.Of), Against: side(1, d.Against), TopOf: d.Part, Order: where(orderKeys[d.Big], d.Bits > 8),
	}
}

var differenceTitles = []string{"kind", "bus", "id", "extended", "byte", "bit", "bits", "of_frames", "of_least", "of_most", "of_changes",
	"against_frames", "against_least", "against_most", "against_changes", "top_of_number", "order"}

// WriteDifferencesCSV writes one row for each difference, those first that tell most.
func WriteDifferencesCSV(w io.Writer, r *words.Frames) error {
	c := csv.NewWriter(w)
	_ = c.Write(differenceTitles) // the writer keeps its first error
	for _, x := range wanted(r) {
		d := difference(x)
		row := []string{d.Kind, text(x.Bus), d.ID, strconv.FormatBool(d.Extended), known(d.Byte), known(d.Bit), known(d.Bits)}
		for _, s := range []differenceSideJSON{d.Of, d.Against} {
			row = append(row, strconv.FormatInt(s.Frames, 10), known(s.Least), known(s.Most), known(s.Changes))
		}
		_ = c.Write(append(row, strconv.FormatBool(d.TopOf), known(d.Order)))
	}
	c.Flush()
	return c.Error()
}

func known[A any](v *A) string {
	if v == nil {
		return ""
	}
	return fmt.Sprint(*v)
}

var byteTitles = []string{"bus", "id", "extended", "byte", "frames", "least", "most", "values", "changes",
	"flips0", "flips1", "flips2", "flips3", "flips4", "flips5", "flips6", "flips7", "looks", "counters", "checksum"}

// WriteBytesCSV writes one row for each byte of the identifiers that were asked for.
// A counter is BIT+BITS.
func WriteBytesCSV(w io.Writer, r *words.Frames) error {
	c := csv.NewWriter(w)
	titles := byteTitles
	if r.Several {
		titles = append([]string{"log"}, titles...)
	}
	_ = c.Write(titles)
	for i := range r.Logs {
		ids := r.Logs[i].Result.IDs
		for k := range ids {
			x := &ids[k]
			if !r.Wants(x) {
				continue
			}
			for _, b := range bytesOf(x) {
				var row []string
				if r.Several {
					row = append(row, text(r.Logs[i].Name))
				}
				row = append(row, text(x.Bus), decode.FormatID(x.ID, x.Extended), strconv.FormatBool(x.Extended), strconv.Itoa(b.Byte),
					strconv.FormatInt(b.Frames, 10), known(&b.Least), known(&b.Most), strconv.Itoa(b.Values), orEmpty(b.Changes))
				for _, n := range b.Flips {
					row = append(row, strconv.FormatInt(n, 10))
				}
				counters := ""
				for k, n := range b.Counters {
					if k > 0 {
						counters += " "
					}
					counters += fmt.Sprintf("%d+%d", n.Bit, n.Bits)
				}
				_ = c.Write(append(row, string(b.Looks), counters, known(b.Checksum)))
			}
		}
	}
	c.Flush()
	return c.Error()
}
