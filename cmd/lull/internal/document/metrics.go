package document

import (
	"io"

	"lull/analyze/measure"
	"lull/decode"
)

type metricListJSON struct {
	formatOnly
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

// WriteMetricsJSON writes the list of metrics; `better` is null if neither direction is
// better.
func WriteMetricsJSON(w io.Writer, list []measure.Metric) error {
	return writeIndented(w, metricListJSON{formatOnly: format, Metrics: each(list, func(m measure.Metric) metricInfoJSON {
		return metricInfoJSON{Key: m.Key, Unit: m.Unit, Window: m.Window, Better: orNull(m.Better), Needs: each(m.Needs, decode.Role.String), Text: m.Text}
	})})
}
