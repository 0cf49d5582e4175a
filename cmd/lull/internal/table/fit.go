package table

import (
	"bytes"
	"fmt"
	"io"

	"lull/cmd/lull/internal/words"
)

// WriteFit writes for each log whether the map can be used with it, and which signals do
// not fit.
func WriteFit(w io.Writer, list []words.Fit, style Style) error {
	var b bytes.Buffer
	for i := range list {
		f := &list[i]
		fmt.Fprintf(&b, "\n%s\n%s\n", hanging(f.Headline(), style.Width, "", 2), hanging(f.Verdict(), style.Width, "  ", 2))
		for _, remark := range f.Remarks() {
			fmt.Fprintf(&b, "%s\n", hanging(remark, style.Width, "  ", 4))
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}
