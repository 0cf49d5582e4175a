package main

import (
	"io"

	"github.com/spf13/cobra"

	measurements "lull/analyze/measure" // measure is a function here
	"lull/cmd/lull/internal/output"
)

func newMetrics(c *console) *cobra.Command {
	var flags outFlags
	cmd := &cobra.Command{
		Use:   "metrics",
		Short: "explains every metric",
		Long: "Lists every metric that lull measures: its key in CSV, JSON and the limits of a map, its unit, what it is, the window it is " +
			"taken from, which side is better, and the roles that a map must give for it.",
		Example: "  lull metrics\n  lull metrics --format markdown -o metrics.md",
		Args:    wants(0, 0, ""),
	}
	flags.register(cmd, formatTable, formatJSON, formatMarkdown)
	cmd.RunE = func(*cobra.Command, []string) error {
		format, err := flags.choose()
		if err != nil {
			return err
		}
		return emit(c, flags.out, func(w io.Writer) error {
			switch format {
			case formatJSON:
				return output.WriteMetricsJSON(w, measurements.Metrics)
			case formatMarkdown:
				return output.WriteMetricsMarkdown(w, measurements.Metrics)
			}
			return output.WriteMetricsTable(w, measurements.Metrics, c.style())
		})
	}
	return cmd
}
