package main

import (
	"io"
	"slices"

	"github.com/spf13/cobra"

	"lull/analyze/compare"
	"lull/cmd/lull/internal/document"
	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
)

var comparisonFormats = []string{formatTable, formatJSON, formatCSV, formatMarkdown}

var splits = []string{string(compare.ByOutcome), string(compare.ByRequest)}

const twoVehiclesText = "compare the logs also where they are of two vehicles"

func newCompare(c *console) *cobra.Command {
	var flags logFlags
	var before, after []string
	var afterMap, by string
	var twoVehicles bool
	cmd := &cobra.Command{
		Use:   "compare --before LOG... --after LOG...",
		Short: "says what a repair changed",
		Long: "Reads the logs from before a repair and those from after it, measures both, and says of every metric whether it became better or worse, " +
			"by how much, and how sure that is. Where so few restarts cannot show a change, it says so; that no change was shown does not mean that there is none.\n" +
			"It says too how often the engine was stopped, a start failed, modules dropped off the bus or a limit was broken on either side, " +
			"and in what the two were not driven alike.\n" +
			"Each of --before and --after takes all that follows up to the next flag: files, folders, or - for standard input.",
		Example: "  lull compare --before monday.log --after friday.log\n" +
			"  lull compare --before before/ --after after/ --map car.yaml --by request\n" +
			"  lull compare --before old.log --after new.log --after-map new.yaml -o verdict.md",
		Annotations: map[string]string{
			sectionFormats: "table: for a person; as wide as the terminal, or COLUMNS, or 80. NO_COLOR switches colour off.\n" +
				"json: every figure unrounded, null where there is none.\n" +
				"csv: one row each of metrics, rates and conditions.\n" +
				"markdown: for a report.\n" +
				"An output file's ending implies the format: .txt, .json, .csv, .md. lull report writes both sides as .html and .pdf.",
			sectionExit:     exitText + "\n--check looks at the side after.",
			sectionCautions: cautionText,
		},
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) > 0 {
				return words.Misused("say on which side it is: --before LOG... --after LOG...", "%s: neither before nor after", args[0])
			}
			return nil
		},
	}
	cmd.Flags().StringArrayVar(&before, "before", nil, "`LOG`s from before the repair, up to the next flag")
	cmd.Flags().StringArrayVar(&after, "after", nil, "`LOG`s from after it, up to the next flag")
	cmd.Flags().StringVar(&afterMap, "after-map", "", "signal map for the logs after, a YAML `FILE`; default: that of --map, or map.yaml beside them")
	cmd.Flags().StringVar(&by, "by", "", "compare episodes of one `KIND` with their like: outcome or request (what asked for the restart)")
	cmd.Flags().BoolVar(&twoVehicles, "two-vehicles", false, twoVehiclesText)
	complete(cmd, "by", splits)
	flags.register(cmd, true, comparisonFormats...)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		flags.elsewhere = func(format string) []string {
			if !slices.Contains(reportFormats, format) || len(before) == 0 {
				return nil
			}
			line := append([]string{"lull", "report"}, after...)
			return flags.commandOn(append(append(line, "--before"), before...)...)
		}
		format, err := flags.choose()
		if err != nil {
			return err
		}
		if err := named("--before", before); err != nil {
			return err
		}
		if err := named("--after", after); err != nil {
			return err
		}
		switch {
		case len(before) == 0:
			return words.Misused("name logs from before the repair", "--before is missing")
		case len(after) == 0:
			return words.Misused("name logs from after the repair", "--after is missing")
		case by != "" && !slices.Contains(splits, by):
			return words.Misused(suggestion(nearest(by, splits), "", "known are outcome and request"), "--by %s: no such kind", by)
		}
		if err := twoSides(before, after); err != nil {
			return err
		}
		sideAfter := flags
		if afterMap != "" {
			sideAfter.mapPath = afterMap
		}
		// Both are opened before anything is read, so that what is wrong with either is
		// said at once.
		logsBefore, err := newLogs(cmd, c, &flags, before)
		if err != nil {
			return err
		}
		logsBefore.TellNamedTwice()
		logsAfter, err := newLogs(cmd, c, &sideAfter, after)
		if err != nil {
			return err
		}
		logsAfter.TellNamedTwice()
		r, side, failed, err := measuring.Compare(cmd.Context(), logsBefore, logsAfter, measuring.How{By: compare.By(by), TwoVehicles: twoVehicles})
		if err != nil {
			return err
		}
		if err := emit(c, flags.out, func(w io.Writer) error { return writeComparison(w, c, r, format, flags.out) }); err != nil {
			return err
		}
		return ending(failed, flags.check, side)
	}
	return cmd
}

func writeComparison(w io.Writer, c *console, r *words.CompareReport, format, file string) error {
	switch format {
	case formatJSON:
		return document.WriteComparisonJSON(w, r)
	case formatCSV:
		return document.WriteComparisonCSV(w, r)
	case formatMarkdown:
		return table.WriteComparisonMarkdown(w, r)
	}
	return table.WriteComparison(w, r, c.styleFor(file))
}
