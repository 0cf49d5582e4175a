package candump_test

import (
	"fmt"
	"os"
	"strings"

	"lull/decode"
	"lull/decode/candump"
)

func Example() {
	log := `(1735270496.916858) can0 1A0#0011
(1735270496.926858) can0 1A0#001
(1735270496.936858) can0 1A0#0012
`
	r := candump.NewReader(strings.NewReader(log), candump.Options{})
	for r.Scan() {
		f := r.Frame()
		fmt.Printf("line %d: %s % X\n", f.Line, decode.FormatID(f.ID, f.Flags.Has(decode.Extended)), f.Payload())
	}
	if err := r.Err(); err != nil {
		fmt.Fprintln(os.Stderr, err)
	}
	for _, m := range r.Info().Remarks {
		fmt.Println(m.Text)
	}
	// Output:
	// line 1: 0x1A0 00 11
	// line 3: 0x1A0 00 12
	// 1 line was rejected: an odd number of hexadecimal digits: 1
}
