package table

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"lull/analyze"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// Write writes the result for a person at a terminal: first the answer in
// one paragraph, then each log's table, its findings and the standstills in
// which the engine ran on.
func Write(w io.Writer, r *words.Report, kind words.Kind, style Style) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s\n", Wrap(r.Answer(), style.Width, ""))
	if legend := r.Legend(); legend != "" {
		fmt.Fprintf(&b, "\n%s\n", Wrap(legend, style.Width, ""))
	}
	for i := range r.Logs {
		l := &r.Logs[i]
		fmt.Fprintf(&b, "\n%s\n", Wrap(l.Headline(), style.Width, ""))
		grid, none := EpisodeGrid(r, l.Result), "  no episode"
		if kind == words.Standstills {
			grid, none = StandstillGrid(r, l.Result), "  no standstill"
		}
		usable := l.Result.Usable()
		if !usable {
			none = "  " + words.NotShown(l.Result)
		}
		if len(grid.Rows) == 0 || !usable {
			fmt.Fprintf(&b, "\n%s\n", none)
		} else {
			b.WriteString("\n")
			if err := grid.writeFitting(&b, style); err != nil {
				return err
			}
		}
		writeFindings(&b, l.Result.Findings, style)
		switch {
		case !usable:
		case kind == words.Standstills:
			writeStories(&b, r.Map, l.Result, style)
		default:
			writeList(&b, "Not stopped", r.Refusals(l), style)
		}
	}
	if kind == words.Episodes {
		writeList(&b, "Covered on the road", r.Tried(), style)
	}
	limits := ""
	if kind == words.Episodes {
		limits = r.LimitsLegend()
	}
	fmt.Fprintf(&b, "\n%s\n%s\n",
		Wrap(limits+"Times in s from the first frame; every metric with its bounds: --format csv or json.", style.Width, ""),
		Wrap(words.Caution, style.Width, ""))
	_, err := w.Write(b.Bytes())
	return err
}

func writeFindings(b *bytes.Buffer, findings []analyze.Finding, style Style) {
	if len(findings) == 0 {
		return
	}
	b.WriteString("\nFindings\n")
	for _, f := range words.FindingLines(findings) {
		word := words.Word{Text: "note"}
		if f.Severity == analyze.Attention {
			word = words.Word{Text: "attention", Tone: words.Bad}
		}
		first := "  " + style.paint(word) + strings.Repeat(" ", 11-len(word.Text))
		fmt.Fprintf(b, "%s\n", hanging(f.Text, style.Width, first, 13))
	}
}

// writeStories writes the story of each standstill in which the engine ran on though it
// could have been stopped.
func writeStories(b *bytes.Buffer, m *decode.Map, res *analyze.Result, style Style) {
	heading := "\nNot stopped\n"
	for i := range res.Standstills {
		s := &res.Standstills[i]
		if !s.RanOn() {
			continue
		}
		b.WriteString(heading)
		heading = ""
		fmt.Fprintf(b, "%s\n", hanging(words.StandstillName(s), style.Width, "  ", 4))
		story := words.BriefStandstillStory(m, res, s)
		wide := 0
		for _, v := range story {
			wide = max(wide, utf8.RuneCountInString(v.Term))
		}
		for _, v := range story {
			first := "    " + v.Term + strings.Repeat(" ", wide+2-utf8.RuneCountInString(v.Term))
			fmt.Fprintf(b, "%s\n", hanging(v.Text, style.Width, first, wide+6))
		}
	}
}

// writeList writes a heading and lines below it, where there are any.
func writeList(b *bytes.Buffer, heading string, lines []string, style Style) {
	if len(lines) == 0 {
		return
	}
	fmt.Fprintf(b, "\n%s\n", heading)
	for _, line := range lines {
		fmt.Fprintf(b, "%s\n", hanging(line, style.Width, "  ", 4))
	}
}
