package main

import (
	"io"

	"github.com/spf13/cobra"

	"lull/analyze/measure"
	"lull/cmd/lull/internal/document"
	"lull/cmd/lull/internal/table"
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
				return document.WriteMetricsJSON(w, measure.Metrics)
			case formatMarkdown:
				return table.WriteMetricsMarkdown(w, measure.Metrics)
			}
			return table.WriteMetrics(w, measure.Metrics, c.style())
		})
	}
	return cmd
}
