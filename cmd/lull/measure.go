package main

import (
	"io"
	"slices"

	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/document"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

var resultFormats = []string{formatTable, formatCSV, formatJSON, formatNDJSON, formatMarkdown, formatXLSX}

const formatsText = "table: for a person; as wide as the terminal, or COLUMNS, or 80. NO_COLOR switches colour off.\n" +
	"csv: one row each, every metric with its bounds; empty where there is none.\n" +
	"json: the whole result with bounds, reasons, remarks and findings; nothing is rounded.\n" +
	"ndjson: one JSON object a line.\n" +
	"markdown: the table for a report.\n" +
	"xlsx: a workbook with the answer, numbers and dates as such, and a sheet that says what each column is.\n" +
	"An output file's ending implies the format: .txt, .csv, .json, .ndjson, .md, .xlsx. lull report writes .html and .pdf."

func newEpisodes(c *console) *cobra.Command {
	var flags logFlags
	cmd := &cobra.Command{
		Use:   "episodes LOG...",
		Short: "measures every stop and restart of the engine",
		Long: "Reads one or more logs of a drive and prints every episode: from the moment at which the engine is told to stop " +
			"to the moment at which it runs again, with what asked for the restart and how long it took. " +
			"A time is known only as exactly as the bus sends its values, so each one comes with the bounds between which it must lie.\n" +
			"LOG is a file, a folder (its logs, by start time) or - for standard input. Several logs are several drives and are never joined.",
		Example: "  lull episodes drive.log\n" +
			"  lull episodes drive.log --map car.yaml -o drive.csv\n" +
			"  lull episodes drives/ --format json | jq '.logs[].summary'\n" +
			"  zcat drive.log.gz | lull episodes - --map car.yaml\n" +
			"  lull episodes drive.log --check --quiet -o drive.md || echo 'look at it'",
		Annotations: map[string]string{sectionFormats: formatsText, sectionExit: exitText, sectionCautions: cautionText},
		Args:        wants(1, -1, "the log"),
	}
	flags.register(cmd, true, resultFormats...)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		return measureLogs(cmd, c, &flags, args, words.Episodes)
	}
	return cmd
}

func newStandstills(c *console) *cobra.Command {
	var flags logFlags
	cmd := &cobra.Command{
		Use:   "standstills LOG...",
		Short: "says of every standstill why the engine was not stopped",
		Long: "Reads one or more logs of a drive and prints every standstill of the vehicle: whether the engine was stopped in it and how " +
			"soon, else which of the map's inhibits kept it running, for what share of the time, and what was measured. " +
			"Where the engine ran on though it could have been stopped, the standstill is told in order of time below the table. " +
			"Where nothing in the map explains it, or a signal is missing, it says so.\n" +
			"LOG is a file, a folder (its logs, by start time) or - for standard input.",
		Example: "  lull standstills drive.log\n" +
			"  lull standstills drives/ --map car.yaml -o standstills.csv\n" +
			"  lull standstills drive.log --format ndjson",
		Annotations: map[string]string{sectionFormats: formatsText, sectionExit: exitText, sectionCautions: cautionText},
		Args:        wants(1, -1, "the log"),
	}
	flags.register(cmd, true, resultFormats...)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		return measureLogs(cmd, c, &flags, args, words.Standstills)
	}
	return cmd
}

// measureLogs does the work of lull episodes and lull standstills.
func measureLogs(cmd *cobra.Command, c *console, flags *logFlags, args []string, kind words.Kind) error {
	flags.elsewhere = func(format string) []string {
		if !slices.Contains(reportFormats, format) {
			return nil
		}
		return flags.commandOn(append([]string{"lull", "report"}, args...)...)
	}
	format, err := flags.chooseFor(c)
	if err != nil {
		return err
	}
	logs, err := newLogs(cmd, c, flags, args)
	if err != nil {
		return err
	}
	report, failed, err := logs.Report(cmd.Context(), format == formatJSON)
	if err != nil {
		return err
	}
	if kind == words.Standstills && logs.Map.RoleSignal(decode.VehicleSpeed) == nil {
		logs.Remark(logs.Map.Name, "no signal has the role vehicle_speed, so no standstill can be found; give it that role")
	}
	if err := emit(c, flags.out, func(w io.Writer) error { return write(w, c, report, kind, format, flags.out) }); err != nil {
		return err
	}
	return ending(failed, flags.check, report)
}

func write(w io.Writer, c *console, r *words.Report, kind words.Kind, format, file string) error {
	switch format {
	case formatCSV:
		return document.WriteCSV(w, r, kind)
	case formatJSON:
		return document.WriteJSON(w, r, kind)
	case formatNDJSON:
		return document.WriteNDJSON(w, r, kind)
	case formatMarkdown:
		return table.WriteMarkdown(w, r, kind)
	case formatXLSX:
		return document.WriteXLSX(w, r, kind)
	}
	return table.Write(w, r, kind, c.styleFor(file))
}
