package table

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"lull/cmd/lull/internal/words"
)

// WriteDraft writes the answer of a draft: a line each for what was found, then the rest.
// Below stands what to type next, where the map was written to a file.
func WriteDraft(w io.Writer, d *words.Draft, file string, logs []string, style Style) error {
	var b bytes.Buffer
	for _, l := range d.Lines() {
		if l.Items == nil {
			fmt.Fprintf(&b, "%s\n", hanging(words.Visible(l.Head+": "+l.Text), style.Width, "", 2))
			continue
		}
		fmt.Fprintf(&b, "%s:\n", l.Head)
		for _, item := range l.Items {
			fmt.Fprintf(&b, "%s\n", hanging(words.Visible(item), style.Width, "  ", 2))
		}
	}
	if file != "" && d.Result != nil && d.Map() != nil {
		fmt.Fprintf(&b, "\n%s\n  lull episodes %s --map %s\n", hanging("Wrote "+words.Visible(file)+". Check whatever is not sure in it; then", style.Width, "", 0), words.Visible(strings.Join(logs, " ")), words.Visible(file))
	}
	_, err := w.Write(b.Bytes())
	return err
}

// WriteSteps writes numbered steps.
func WriteSteps(w io.Writer, steps []string, style Style) error {
	var b bytes.Buffer
	for i, s := range steps {
		fmt.Fprintf(&b, "%s\n", hanging(fmt.Sprintf("%2d. %s", i+1, s), style.Width, "", 4))
	}
	_, err := w.Write(b.Bytes())
	return err
}
