package main

import (
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lull/analyze/measure"
	"lull/cmd/lull/internal/document"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

func newMetrics(c *console) *cobra.Command {
	var flags outFlags
	cmd := &cobra.Command{
		Use:   "metrics [KEY...]",
		Short: "explains every metric",
		Long: "Lists every metric that lull measures: its key in CSV, JSON and the limits of a map, its unit, what it is, the window it is " +
			"taken from, which side is better, and the roles that a map must give for it.\n" +
			"With keys it explains those alone, and says besides how their bounds come about and what it means that there is no value.",
		Example: "  lull metrics\n  lull metrics restart_latency\n  lull metrics --format markdown -o metrics.md",
		Args:    wants(0, -1, ""),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return decode.MetricKeys, cobra.ShellCompDirectiveNoFileComp
		},
	}
	flags.register(cmd, formatTable, formatJSON, formatMarkdown)
	cmd.RunE = func(_ *cobra.Command, args []string) error {
		format, err := flags.choose()
		if err != nil {
			return err
		}
		list, err := metricsOf(args)
		if err != nil {
			return err
		}
		return emit(c, flags.out, func(w io.Writer) error {
			switch {
			case format == formatJSON:
				return document.WriteMetricsJSON(w, list)
			case format == formatMarkdown:
				return table.WriteMetricsMarkdown(w, list)
			case len(args) > 0:
				return table.WriteMetricsExplained(w, list, c.styleFor(flags.out))
			}
			return table.WriteMetrics(w, list, c.style())
		})
	}
	return cmd
}

// metricsOf returns the metrics with these keys, each once, or all if there are no keys.
func metricsOf(keys []string) ([]measure.Metric, error) {
	if len(keys) == 0 {
		return measure.Metrics, nil
	}
	var list []measure.Metric
	for i, key := range keys {
		m, known := measure.MetricByKey(key)
		if !known {
			near := nearest(key, decode.MetricKeys)
			for _, k := range decode.MetricKeys { // latency may be said of restart_latency
				if len(near) < 3 && len(key) >= 3 && strings.Contains(k, strings.ToLower(key)) && !slices.Contains(near, k) {
					near = append(near, k)
				}
			}
			return nil, words.Misused(suggestion(near, "", "lull metrics lists them all"), "%s: no such metric", key)
		}
		if !slices.Contains(keys[:i], key) {
			list = append(list, m)
		}
	}
	return list, nil
}
