package table

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// WriteDraft writes the answer of a draft: a line each for what was found, then the rest.
// Below stands what to type next, where the map was written to a file.
func WriteDraft(w io.Writer, d *words.Draft, file string, logs []string, style Style) error {
	did := ""
	if file != "" && d.Map() != nil {
		did = "Wrote " + file + "."
	}
	return writeDraft(w, d, did, file, logs, style)
}

// WriteDraftInto is WriteDraft of a draft of which so many signals were added to a map.
func WriteDraftInto(w io.Writer, d *words.Draft, file string, added int, logs []string, style Style) error {
	did := fmt.Sprintf("Added %s to %s, below what stands there.", decode.Counted(int64(added), "signal", "signals"), file)
	if added == 0 {
		did = "Nothing was added: " + file + " has all of it, or its bits, already."
	}
	return writeDraft(w, d, did, file, logs, style)
}

func writeDraft(w io.Writer, d *words.Draft, did, file string, logs []string, style Style) error {
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
	if did != "" {
		fmt.Fprintf(&b, "\n%s\n  lull episodes %s --map %s\n", hanging(words.Visible(did)+" Check whatever is not sure in it; then", style.Width, "", 0), words.Visible(strings.Join(logs, " ")), words.Visible(file))
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
