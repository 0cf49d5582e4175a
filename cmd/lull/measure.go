package main

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lull/analyze"
	"lull/cmd/lull/internal/document"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/source"
)

var resultFormats = []string{formatTable, formatCSV, formatJSON, formatNDJSON, formatMarkdown, formatXLSX}

const formatsText = "table: for a person; as wide as the terminal, or COLUMNS, or 80. NO_COLOR switches colour off.\n" +
	"csv: one row each, every metric with its bounds; empty where there is none.\n" +
	"json: the whole result with bounds, reasons, remarks and findings; nothing is rounded.\n" +
	"ndjson: one JSON object a line.\n" +
	"markdown: the table for a report.\n" +
	"xlsx: a workbook with numbers and dates as such, and a sheet that says what each column is.\n" +
	"An output file's ending implies the format: .txt, .csv, .json, .ndjson, .md, .xlsx."

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
		return measure(cmd, c, &flags, args, words.Episodes)
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
		return measure(cmd, c, &flags, args, words.Standstills)
	}
	return cmd
}

// measure is the main job: read the logs, analyse each, write the result.
func measure(cmd *cobra.Command, c *console, flags *logFlags, args []string, kind words.Kind) error {
	format, err := flags.chooseFor(c)
	if err != nil {
		return err
	}
	quiet, _ := cmd.Flags().GetBool("quiet")
	j, err := newJob(c, flags, quiet, args)
	if err != nil {
		return err
	}
	report, failed, err := j.analyse(cmd.Context(), format == formatJSON)
	if err != nil {
		return err
	}
	if kind == words.Standstills && j.m.RoleSignal(decode.VehicleSpeed) == nil {
		j.remark(j.m.Name, "no signal has the role vehicle_speed, so no standstill can be found; give it that role")
	}
	if err := emit(c, flags.out, func(w io.Writer) error { return write(w, c, report, kind, format, flags.out) }); err != nil {
		return err
	}
	switch {
	case failed:
		return errReported
	case flags.check && broken(report):
		return errLimitBroken
	}
	return nil
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

// analyse measures every log that can be read and names the others on standard
// error; failed tells that there were such. sha256 asks for the logs' hashes. Where none is left, or none ever
// shows the engine speed, it is an error.
func (j *job) analyse(ctx context.Context, sha256 bool) (r *words.Report, failed bool, err error) {
	r, failed = &words.Report{Version: version(), Map: j.m}, j.failed
	var blind []error // logs in which the engine speed was never seen
	for _, in := range j.inputs {
		log, err := j.analyseOne(ctx, in, sha256)
		if ctx.Err() != nil {
			return nil, true, ctx.Err()
		}
		if err != nil {
			failed = j.leftOut(in, err) || failed
			continue
		}
		if !log.Result.EngineSpeedSeen {
			blind = append(blind, j.blindness(log))
		}
		r.Logs = append(r.Logs, *log)
	}
	if len(r.Logs) == 0 {
		return nil, true, j.nothing()
	}
	for i := range r.Logs {
		if r.Logs[i].Result.EngineSpeedSeen {
			j.remarks(r.Logs[i].Name, &r.Logs[i].Result.Info)
		}
	}
	for _, b := range blind {
		if len(blind) == len(r.Logs) || !j.quiet {
			report(j.c.err, b)
		}
	}
	if len(blind) == len(r.Logs) {
		if slices.ContainsFunc(r.Logs, func(l words.Log) bool { return l.Result.Info.Accepted > 0 }) {
			return nil, true, errBlind
		}
		return nil, true, errReported
	}
	j.tellTwice(words.SideOf(r).Logs)
	return r, failed, nil
}

// tellTwice says which logs are one drive, since all that is counted counts it
// twice.
func (j *job) tellTwice(logs []analyze.Log) {
	for i := range logs {
		for k := range logs[:i] {
			if analyze.SameDrive(&logs[i], &logs[k]) {
				j.remark(logs[i].Name, "the same drive as "+logs[k].Name+"; it is counted twice; leave one out")
				break
			}
		}
	}
}

func (j *job) analyseOne(ctx context.Context, in source.Input, sha256 bool) (*words.Log, error) {
	run := analyze.NewRun(j.m)
	f, err := j.scan(ctx, in, visitor{
		frame:  func(f *decode.Frame, _ logReader) error { run.Push(f); return nil },
		passed: run.Pass,
		filter: decode.NewFilter(j.m),
		sha256: sha256,
	})
	if err != nil {
		return nil, err
	}
	if f.info.Accepted == 0 && f.info.Rejected > 0 {
		return nil, unusable(in.Name, &f.info)
	}
	if f.info.Stamps == decode.StampsNone && f.info.Accepted > 0 {
		return nil, &failure{where: in.Name, what: "its lines have no time stamps, so nothing in it can be measured",
			hint: "record with candump -l or candump -t a"}
	}
	return &words.Log{Name: in.Name, SHA256: f.sha256, Bytes: f.bytes, Result: run.Finish(f.info)}, nil
}

// blindness says why a log tells nothing of the engine.
func (j *job) blindness(log *words.Log) error {
	info := &log.Result.Info
	if err := unusable(log.Name, info); err != nil {
		return err
	}
	signal := j.m.RoleSignal(decode.EngineSpeed)
	entry := &j.m.Entries[signal.Entry]
	where := entry.Label()
	if entry.Bus != "" && entry.Bus != " " {
		where += " on " + entry.Bus
	}
	f := &failure{where: log.Name,
		what: fmt.Sprintf("the engine speed (signal %s in %s) is never seen", signal.Name, where),
		hint: fmt.Sprintf("check the map; this log has the interfaces %s", words.Interfaces(info))}
	if slices.Contains(j.missingBuses(info), entry.Bus) || entry.Bus == " " {
		f.what = fmt.Sprintf("no frame of the interface %s, on which the engine speed is looked for", strings.Join(j.missingBuses(info), ", "))
		f.hint = "this log has " + words.Interfaces(info)
		if entry.Bus == " " {
			f.what = fmt.Sprintf("the map has the engine speed on another interface than %s", j.bus)
		}
	} else if entry.Polled() {
		f.hint = "polled answers are needed for it; check the map and that a tester was asking"
	}
	if info.Rejected > 0 {
		f.what += ", and " + decode.Counted(info.Rejected, "line of it is", "lines of it are") + " no CAN frame"
	}
	return f
}

func broken(r *words.Report) bool {
	for i := range r.Logs {
		for k := range r.Logs[i].Result.Episodes {
			for _, v := range r.Logs[i].Result.Episodes[k].Limits {
				if v.Verdict == analyze.Outside {
					return true
				}
			}
		}
	}
	return false
}
