package output

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"lull/analyze/measure"
	"lull/decode"
)

type metricListJSON struct {
	Format  int              `json:"format"`
	Metrics []metricInfoJSON `json:"metrics"`
}

type metricInfoJSON struct {
	Key    string   `json:"key"`
	Unit   string   `json:"unit"`
	Window string   `json:"window"`
	Better *string  `json:"better"`
	Needs  []string `json:"needs"`
	Text   string   `json:"text"`
}

// WriteMetricsJSON writes the list of metrics; `better` is null where neither
// side is better.
func WriteMetricsJSON(w io.Writer, list []measure.Metric) error {
	return writeIndented(w, metricListJSON{Format: 1, Metrics: each(list, func(m measure.Metric) metricInfoJSON {
		return metricInfoJSON{Key: m.Key, Unit: m.Unit, Window: m.Window, Better: orNull(m.Better), Needs: each(m.Needs, decode.Role.String), Text: m.Text}
	})})
}

// WriteMetricsTable writes the list of metrics for a person: a line of facts and
// the text below it where the output is narrow, one table where it is not.
func WriteMetricsTable(w io.Writer, list []measure.Metric, style Style) error {
	var b bytes.Buffer
	if style.Width >= 140 {
		columns := metricColumnsOf(list)
		for i := 3; i < len(columns); i++ {
			columns[i].wrap = (style.Width - 46) / 3
		}
		if err := writeGrid(&b, columns, style); err != nil {
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

// WriteMetricsMarkdown writes the list of metrics as one Markdown table.
func WriteMetricsMarkdown(w io.Writer, list []measure.Metric) error {
	var b bytes.Buffer
	markdownGrid(&b, metricColumnsOf(list))
	_, err := w.Write(b.Bytes())
	return err
}

func metricColumnsOf(list []measure.Metric) []column {
	columns := []column{{title: "metric"}, {title: "unit"}, {title: "better"}, {title: "what it is"}, {title: "window"}, {title: "needs"}}
	for _, m := range list {
		for i, text := range []string{m.Key, m.Unit, m.Better, m.Text, m.Window, needs(m)} {
			if text == "" {
				text = "-"
			}
			columns[i].cells = append(columns[i].cells, cell{text: text})
		}
	}
	return columns
}

// needs lists the roles that a metric cannot do without.
func needs(m measure.Metric) string {
	return strings.Join(each(m.Needs, decode.Role.String), ", ")
}
