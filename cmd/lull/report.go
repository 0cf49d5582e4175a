package main

import (
	"errors"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/page"
)

// reportFlags are what `lull report` takes besides the flags of all commands on
// logs.
type reportFlags struct {
	logFlags
	before                                           []string
	twoVehicles                                      bool
	complaint, vehicle, order, technician, noteOfJob string
}

var reportFormats = []string{formatHTML, formatPDF}

func newReport(c *console) *cobra.Command {
	var flags reportFlags
	cmd := &cobra.Command{
		Use:   "report LOG... [--before LOG...]",
		Short: "writes one file for the repair order, with a picture of every episode",
		Long: "Reads one or more logs and writes a report: the answer in words, the episodes with a picture of each, the standstills with a picture of each in which the engine ran on and what kept it running, " +
			"findings, what the drives covered, starter operations, and how it was measured. With --before it shows both sides of a repair; LOG is then the side after it.\n" +
			"The file is complete in itself: it loads nothing, runs nothing and can be mailed, kept and printed on A4 or Letter.\n" +
			"--before takes every argument up to the next flag. Each log is read twice, the second time for its pictures; standard input is kept in a temporary file for that.\n" +
			"LOG is a file, a folder (its logs, by start time) or - for standard input.",
		Example: "  lull report drive.log -o report.html\n" +
			"  lull report drive.log -o report.pdf --complaint 'slow to go at lights' --order 4711\n" +
			"  lull report after.log --before before.log -o repair.html",
		Annotations: map[string]string{
			sectionFormats: "html: one file with its style sheet and pictures in it.\n" +
				"pdf: the same; its text can be selected and searched.\n" +
				"An output file's ending implies the format: .html, .pdf. lull episodes writes .csv, .json, .xlsx and others, and with --before lull compare does.",
			sectionExit: exitText, sectionCautions: cautionText,
		},
		Args: wants(1, -1, "the log"),
	}
	flags.register(cmd, true, reportFormats...)
	cmd.Flags().StringArrayVar(&flags.before, "before", nil, "`LOG`s of before the repair, up to the next flag")
	cmd.Flags().BoolVar(&flags.twoVehicles, "two-vehicles", false, twoVehiclesText)
	cmd.Flags().StringVar(&flags.complaint, "complaint", "", "the customer's complaint, as free `TEXT`")
	cmd.Flags().StringVar(&flags.vehicle, "vehicle", "", "the vehicle, as free `TEXT`; default: the map's")
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
	flags.elsewhere = func(format string) []string {
		switch {
		case len(flags.before) == 0 && slices.Contains(resultFormats, format):
			return flags.commandOn(append([]string{"lull", "episodes"}, args...)...)
		case len(flags.before) > 0 && slices.Contains(comparisonFormats, format):
			line := append([]string{"lull", "compare", "--before"}, flags.before...)
			return flags.commandOn(append(append(line, "--after"), args...)...)
		}
		return nil
	}
	format, err := flags.chooseFor(c)
	if err != nil {
		return err
	}
	if err := twoSides(flags.before, args); err != nil {
		return err
	}
	r := &page.Report{Complaint: flags.complaint, Vehicle: flags.vehicle, Order: flags.order, Technician: flags.technician, Note: flags.noteOfJob}
	logsAfter, err := newLogs(cmd, c, &flags.logFlags, args)
	if err != nil {
		return err
	}
	var logsBefore *measuring.Logs
	if len(flags.before) > 0 {
		other := flags.logFlags
		if _, _, err := measuring.LoadMap(other.mapPath, flags.before); errors.Is(err, measuring.ErrNoMap) {
			// If there is no map beside them, they are read by the map of the others.
			_, other.mapPath, _ = measuring.LoadMap(flags.mapPath, args)
		}
		if logsBefore, err = newLogs(cmd, c, &other, flags.before); err != nil {
			return err
		}
	}
	failed, err := measuring.FillReport(cmd.Context(), r, logsBefore, logsAfter, measuring.How{TwoVehicles: flags.twoVehicles})
	if err != nil {
		return err
	}
	if err := emit(c, flags.out, func(w io.Writer) error {
		if format == formatPDF {
			return r.WritePDF(w)
		}
		return r.WriteHTML(w)
	}); err != nil {
		return err
	}
	return ending(failed, flags.check, r.After.Report)
}
