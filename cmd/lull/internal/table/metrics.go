package table

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"strings"

	"lull/analyze/measure"
	"lull/cmd/lull/internal/words"
)

// WriteMetrics writes the list of metrics for a person: one table or, if the output is
// narrow, a line of facts with the text below it.
func WriteMetrics(w io.Writer, list []measure.Metric, style Style) error {
	var b bytes.Buffer
	if style.Width >= 140 {
		grid := metricList(list)
		for i := 3; i < len(grid.Columns); i++ {
			grid.Columns[i].wrap = (style.Width - 46) / 3
		}
		if err := grid.write(&b, style); err != nil {
			return err
		}
		_, err := w.Write(b.Bytes())
		return err
	}
	for _, m := range list {
		better := ""
		if m.Better != "" {
			better = ", " + m.Better + " is better"
		}
		fmt.Fprintf(&b, "%s in %s%s\n", m.Key, m.Unit, better)
		for _, line := range []struct{ name, text string }{{"", m.Text}, {"window: ", m.Window}, {"needs: ", needs(m)}} {
			if line.text != "" {
				fmt.Fprintf(&b, "%s\n", hanging(line.name+line.text, style.Width, "  ", 4))
			}
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

// WriteMetricsExplained writes everything about some metrics for a person.
func WriteMetricsExplained(w io.Writer, list []measure.Metric, style Style) error {
	var b bytes.Buffer
	for i := range list {
		if i > 0 {
			b.WriteString("\n")
		}
		m := &list[i]
		name := ""
		if spoken := words.Spoken(m.Key); spoken != m.Key {
			name = " (" + spoken + ")"
		}
		fmt.Fprintf(&b, "%s%s\n", m.Key, name)
		for _, fact := range words.MetricFacts(m) {
			first := "  " + fact.Name + ":"
			fmt.Fprintf(&b, "%s\n", hanging(fact.Text, style.Width, first+strings.Repeat(" ", 14-len(first)), 14))
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

// WriteMetricsMarkdown writes the list of metrics as one Markdown table.
func WriteMetricsMarkdown(w io.Writer, list []measure.Metric) error {
	var b bytes.Buffer
	grid := metricList(list)
	grid.markdown(&b)
	_, err := w.Write(b.Bytes())
	return err
}

// metricList is the table of what each metric is.
func metricList(list []measure.Metric) Grid {
	g := Grid{Columns: []Column{{Title: "metric"}, {Title: "unit"}, {Title: "better"}, {Title: "what it is"}, {Title: "window"}, {Title: "needs"}}}
	for _, m := range list {
		texts := []string{m.Key, m.Unit, m.Better, m.Text, m.Window, needs(m)}
		for i := range texts {
			texts[i] = cmp.Or(texts[i], "-")
		}
		g.add(texts...)
	}
	return g
}

// needs lists the roles that a metric cannot do without.
func needs(m measure.Metric) string {
	var roles []string
	for _, role := range m.Needs {
		roles = append(roles, role.String())
	}
	return strings.Join(roles, ", ")
}
