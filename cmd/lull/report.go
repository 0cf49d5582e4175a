package main

import (
	"context"
	"errors"
	"io"
	"os"

	"github.com/spf13/cobra"

	"lull/analyze"
	"lull/analyze/compare"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/source"
)

// reportFlags are what `lull report` takes besides the flags of all commands on
// logs.
type reportFlags struct {
	logFlags
	before                                           []string
	complaint, vehicle, order, technician, noteOfJob string
}

func newReport(c *console) *cobra.Command {
	var flags reportFlags
	cmd := &cobra.Command{
		Use:   "report LOG... [--before LOG...]",
		Short: "writes one file for the repair order, with a picture of every episode",
		Long: "Reads one or more logs and writes a report: the answer in words, the episodes with a picture of each, the standstills and what kept the engine running, " +
			"findings, what was tried, starter operations, and how it was measured. With --before it shows both sides of a repair; LOG is then the side after it.\n" +
			"The file is complete in itself: it loads nothing, runs nothing and can be mailed, kept and printed on A4 or Letter.\n" +
			"--before takes every argument up to the next flag. Each log is read twice, the second time for its pictures; standard input is kept in a temporary file for that.\n" +
			"LOG is a file, a folder (its logs, by start time) or - for standard input.",
		Example: "  lull report drive.log -o report.html\n" +
			"  lull report drive.log -o report.pdf --complaint 'slow to go at lights' --order 4711\n" +
			"  lull report after.log --before before.log -o repair.html",
		Annotations: map[string]string{
			sectionFormats: "html: one file with its style sheet and pictures in it.\n" +
				"pdf: the same; its text can be selected and searched.\n" +
				"An output file's ending implies the format: .html, .pdf.",
			sectionExit: exitText, sectionCautions: cautionText,
		},
		Args: wants(1, -1, "the log"),
	}
	flags.register(cmd, true, formatHTML, formatPDF)
	cmd.Flags().StringArrayVar(&flags.before, "before", nil, "`LOG`s of before the repair, up to the next flag")
	cmd.Flags().StringVar(&flags.complaint, "complaint", "", "the customer's complaint, as free `TEXT`")
	cmd.Flags().StringVar(&flags.vehicle, "vehicle", "", "the vehicle, as free `TEXT`; left out: the map's")
	cmd.Flags().StringVar(&flags.order, "order", "", "number of the repair order, as free `TEXT`")
	cmd.Flags().StringVar(&flags.technician, "technician", "", "who measured, as free `TEXT`")
	cmd.Flags().StringVar(&flags.noteOfJob, "note", "", "a note, as free `TEXT`")
	cmd.RunE = func(cmd *cobra.Command, args []string) error { return makeReport(cmd, c, &flags, args) }
	return cmd
}

func makeReport(cmd *cobra.Command, c *console, flags *reportFlags, args []string) error {
	if err := named("--before", flags.before); err != nil {
		return err
	}
	format, err := flags.chooseFor(c)
	if err != nil {
		return err
	}
	if err := twoSides(flags.before, args); err != nil {
		return err
	}
	quiet, _ := cmd.Flags().GetBool("quiet")
	r := &page.Report{Complaint: flags.complaint, Vehicle: flags.vehicle, Order: flags.order, Technician: flags.technician, Note: flags.noteOfJob}
	jobAfter, err := newJob(c, &flags.logFlags, quiet, args)
	if err != nil {
		return err
	}
	var jobBefore *job
	if len(flags.before) > 0 {
		other := flags.logFlags
		if _, _, err := loadMap(other.mapPath, flags.before); errors.Is(err, errNoMap) {
			// Where none lies beside them, they are read by the map of the others.
			_, other.mapPath, _ = loadMap(flags.mapPath, args)
		}
		if jobBefore, err = newJob(c, &other, quiet, flags.before); err != nil {
			return err
		}
		tellApart(jobBefore, jobAfter)
	}
	after, failed, err := pictured(cmd.Context(), jobAfter)
	if err != nil {
		return err
	}
	r.After = *after
	if jobBefore != nil {
		before, failedToo, err := pictured(cmd.Context(), jobBefore)
		if err != nil {
			return err
		}
		r.Before, failed = before, failed || failedToo
		if r.Comparison, err = compared(before.Report, after.Report, compare.ByNothing); err != nil {
			return err
		}
	}
	if err := emit(c, flags.out, func(w io.Writer) error {
		if format == formatPDF {
			return r.WritePDF(w)
		}
		return r.WriteHTML(w)
	}); err != nil {
		return err
	}
	switch {
	case failed:
		return errReported
	case flags.check && broken(r.After.Report):
		return errLimitBroken
	}
	return nil
}

// pictured measures the logs of one side and reads them a second time for the
// samples that the pictures need.
func pictured(ctx context.Context, j *job) (*page.Side, bool, error) {
	clean, err := j.keepWhatPasses(ctx)
	if err != nil {
		return nil, false, err
	}
	defer clean()
	result, failed, err := j.analyse(ctx, true)
	if err != nil {
		return nil, false, err
	}
	episodes := 0
	for i := range result.Logs {
		episodes += len(result.Logs[i].Result.Episodes)
	}
	if j.mostEpisodes > 0 && episodes > j.mostEpisodes {
		return nil, false, errNoRoom
	}
	side := &page.Side{Report: result}
	quietly := *j
	quietly.quiet = true // all was said at the first reading
	for i := range result.Logs {
		l := &result.Logs[i]
		traces, err := quietly.trace(ctx, l, page.Windows(l.Result))
		if err != nil {
			return nil, false, err
		}
		side.Traces = append(side.Traces, page.TracesOf(l.Result, traces))
	}
	return side, failed, nil
}

// trace reads a measured log again for the samples in some windows.
func (j *job) trace(ctx context.Context, l *words.Log, windows []analyze.Window) ([]analyze.Traces, error) {
	for _, in := range j.inputs {
		if in.Name != l.Name {
			continue
		}
		t := analyze.NewTracer(j.m, l.Result, windows)
		_, err := j.scan(ctx, in, visitor{
			frame:  func(f *decode.Frame, _ logReader) error { t.Push(f); return nil },
			passed: t.Pass,
			filter: decode.NewFilter(j.m),
		})
		return t.Finish(), err
	}
	return nil, &failure{where: l.Name, what: "cannot be read a second time", hint: "do not move logs while they are read"}
}

// keepWhatPasses keeps what comes on standard input or through a pipe, so that it can
// be read twice; the function given back lets go of it.
func (j *job) keepWhatPasses(ctx context.Context) (clean func(), err error) {
	clean = func() {
		for i := range j.inputs {
			if kept := j.inputs[i].Kept; kept != nil {
				_ = kept.Close() // and with that it is gone
			}
		}
	}
	for i := range j.inputs {
		in := &j.inputs[i]
		from, passes := j.passing(ctx, in.Path)
		if !passes {
			continue
		}
		if in.Kept, err = source.Keep(from); err != nil {
			clean()
			return nil, &failure{where: in.Name, what: "cannot be kept for a second reading: " + plainError(err), hint: "name a file, or make room where TMPDIR is", cause: err}
		}
	}
	return clean, nil
}

// passing gives what can be read only once: standard input, or a pipe, which is
// opened as soon as it is read.
func (j *job) passing(ctx context.Context, path string) (io.Reader, bool) {
	if path == source.Stdin {
		return j.c.in, true
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().IsRegular() || info.IsDir() {
		return nil, false // a file, or what reading it will tell
	}
	return &interruptible{ctx: ctx, r: &opened{path: path}}, true
}

// opened is a file that is opened when it is first read, as opening a pipe waits for
// who writes to it, and closed at its end.
type opened struct {
	path string
	file *os.File
}

func (o *opened) Read(p []byte) (n int, err error) {
	if o.file == nil {
		if o.file, err = os.Open(o.path); err != nil {
			return 0, err
		}
	}
	n, err = o.file.Read(p)
	if err != nil {
		_ = o.file.Close() // only read
	}
	return n, err
}
