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
	before      []string
	twoVehicles bool
	remember    bool
	job         page.Job
	extent      page.Extent
}

var reportFormats = []string{formatHTML, formatPDF}

func newReport(c *console) *cobra.Command {
	var flags reportFlags
	cmd := &cobra.Command{
		Use:   "report LOG... [--before LOG...]",
		Short: "writes the sheet for the customer: one side of paper",
		Long: "Reads one or more logs and writes one side of A4 or Letter for the customer and the repair order: what is wrong, in plain words, the one picture that shows it, what was driven and how sure the figures are. " +
			"With --before it shows what it was and what it is now; LOG is then the side after the repair.\n" +
			"What you say of the job stands at its head; what is left out is not shown. --remember keeps workshop and technician for the next sheet, in lull's folder among your settings.\n" +
			"--full adds what it is based on: the answer in full, every episode in which something was wrong with its picture, every standstill in which the engine ran on for no reason found, the others as rows, what the drives covered and how it was measured; --all adds pictures of the others too.\n" +
			"The file is complete in itself: it loads nothing, runs nothing and can be mailed, kept and printed.\n" +
			"--before takes every argument up to the next flag. What is drawn is read a second time; standard input is kept in a temporary file for that.\n" +
			"LOG is a file, a folder (its logs, by start time) or - for standard input.",
		Example: "  lull report drive.log -o sheet.pdf\n" +
			"  lull report drive.log -o sheet.pdf --complaint 'slow to go at lights' --order 4711\n" +
			"  lull report after.log --before before.log -o repair.html\n" +
			"  lull report drives/ --full -o whole.pdf",
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
	for _, f := range page.Fields {
		cmd.Flags().StringVar(f.Of(&flags.job), f.Key, "", f.Help+", as free `TEXT`")
	}
	cmd.Flags().BoolVar(&flags.remember, "remember", false, "keep workshop and technician for the next sheet")
	cmd.Flags().BoolVar(&flags.extent.Full, "full", false, "add what the sheet is based on")
	cmd.Flags().BoolVar(&flags.extent.All, "all", false, "with --full: pictures of every episode and standstill")
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
	remembered, err := measuring.Remembered()
	if err != nil {
		return err
	}
	for _, f := range page.Fields {
		if !cmd.Flags().Changed(f.Key) {
			*f.Of(&flags.job) = *f.Of(&remembered)
		}
	}
	flags.extent.Full = flags.extent.Full || flags.extent.All
	r := &page.Report{Job: flags.job, Extent: flags.extent}
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
	if flags.remember {
		if err := measuring.Remember(flags.job); err != nil {
			return err
		}
	}
	return ending(failed, flags.check, r.After.Report)
}
