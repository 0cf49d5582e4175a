package table

import (
	"bytes"
	"io"

	"lull/cmd/lull/internal/words"
)

// WriteOverview writes one line for each log.
func WriteOverview(w io.Writer, list []words.Overview, style Style) error {
	var b bytes.Buffer
	g := Grid{Columns: []Column{{Title: "log"}, {Title: "stopped"}, {Title: "slowest restart s", Rank: 2, Bounds: true},
		{Title: "out of limits", Rank: 3}, {Title: "findings", Rank: 1}}}
	for _, o := range list {
		g.Rows = append(g.Rows, []words.Word{o.Name, o.Stopped, o.Slowest, o.Broken, o.Findings})
	}
	if err := g.writeFitting(&b, style); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}
