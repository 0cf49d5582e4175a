package main

import (
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lull/analyze/compare"
	"lull/cmd/lull/internal/document"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
	"lull/pkg/source"
)

var splits = []string{string(compare.ByOutcome), string(compare.ByRequest)}

func newCompare(c *console) *cobra.Command {
	var flags logFlags
	var before, after []string
	var afterMap, by string
	cmd := &cobra.Command{
		Use:   "compare --before LOG... --after LOG...",
		Short: "says what a repair changed",
		Long: "Reads the logs from before a repair and those from after it, measures both, and says of every metric whether it became better or worse, " +
			"by how much, and how sure that is. Where so few restarts cannot show a change, it says so; that no change was shown does not mean that there is none.\n" +
			"It says too how often the engine was stopped, a start failed, a module fell silent or a limit was broken on either side, " +
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
				"An output file's ending implies the format: .txt, .json, .csv, .md.",
			sectionExit:     exitText + "\n--check looks at the side after.",
			sectionCautions: cautionText,
		},
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) > 0 {
				return misuse("say on which side it is: --before LOG... --after LOG...", "%s: neither before nor after", args[0])
			}
			return nil
		},
	}
	cmd.Flags().StringArrayVar(&before, "before", nil, "`LOG`s from before the repair, up to the next flag")
	cmd.Flags().StringArrayVar(&after, "after", nil, "`LOG`s from after it, up to the next flag")
	cmd.Flags().StringVar(&afterMap, "after-map", "", "signal map for the logs after, a YAML `FILE`; left out: that of --map, or map.yaml beside them")
	cmd.Flags().StringVar(&by, "by", "", "compare episodes of one `KIND` with their like: outcome or request (what asked for the restart)")
	complete(cmd, "by", splits)
	flags.register(cmd, true, formatTable, formatJSON, formatCSV, formatMarkdown)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
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
			return misuse("name logs from before the repair", "--before is missing")
		case len(after) == 0:
			return misuse("name logs from after the repair", "--after is missing")
		case by != "" && !slices.Contains(splits, by):
			return misuse(suggestion(nearest(by, splits), "", "known are outcome and request"), "--by %s: no such kind", by)
		}
		if err := twoSides(before, after); err != nil {
			return err
		}
		quiet, _ := cmd.Flags().GetBool("quiet")
		sideAfter := flags
		if afterMap != "" {
			sideAfter.mapPath = afterMap
		}
		jobBefore, err := newSide(c, &flags, quiet, before)
		if err != nil {
			return err
		}
		jobAfter, err := newSide(c, &sideAfter, quiet, after)
		if err != nil {
			return err
		}
		tellApart(jobBefore, jobAfter)
		b, failedBefore, err := jobBefore.analyse(cmd.Context(), true)
		if err != nil {
			return err
		}
		a, failedAfter, err := jobAfter.analyse(cmd.Context(), true)
		if err != nil {
			return err
		}
		r, err := compared(b, a, compare.By(by))
		if err != nil {
			return err
		}
		if r.Empty() {
			return nothingToCompare(b, a)
		}
		if err := emit(c, flags.out, func(w io.Writer) error { return writeComparison(w, c, r, format, flags.out) }); err != nil {
			return err
		}
		switch {
		case failedBefore || failedAfter:
			return errReported
		case flags.check && broken(a):
			return errLimitBroken
		}
		return nil
	}
	return cmd
}

// newSide is the job of one side. Both are made before anything is read, so that
// what is wrong with either is said at once.
func newSide(c *console, flags *logFlags, quiet bool, args []string) (*job, error) {
	j, err := newJob(c, flags, quiet, args)
	if err != nil {
		return nil, err
	}
	for _, name := range namedTwice(args) {
		j.remark(name, "given twice; it is counted once")
	}
	return j, nil
}

// tellApart names the logs of two sides so that none has the name of another one.
func tellApart(before, after *job) {
	inputs := slices.Concat(before.inputs, after.inputs)
	source.NameAll(inputs)
	n := copy(before.inputs, inputs)
	copy(after.inputs, inputs[n:])
}

// nothingToCompare says which side has nothing that the other one could be held
// against: neither an episode nor a standstill in which the engine could have been
// stopped.
func nothingToCompare(before, after *words.Report) error {
	var sides, names []string
	for _, s := range []struct {
		name string
		*words.Report
	}{{"before", before}, {"after", after}} {
		found := 0
		for i := range s.Logs {
			found += s.Logs[i].Result.Summary.Episodes + s.Logs[i].Result.Summary.Opportunities
		}
		if found > 0 {
			continue
		}
		sides = append(sides, s.name)
		for i := range s.Logs {
			names = append(names, s.Logs[i].Name)
		}
	}
	if len(sides) == 0 {
		return &failure{what: "nothing that was measured is there on both sides", hint: "lull episodes and lull standstills show what each has"}
	}
	return &failure{where: strings.Join(names, ", "), what: "no episode and no standstill in which the engine could have been stopped, on the side " + strings.Join(sides, " and on the side "),
		hint: "drive so that the engine stops, and record again"}
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

// compared holds the side after against the one before.
func compared(before, after *words.Report, by compare.By) (*words.CompareReport, error) {
	if before.Map.SHA256 == after.Map.SHA256 {
		after.Map = before.Map
	}
	sideBefore, sideAfter := words.SideOf(before), words.SideOf(after)
	if name, other, twice := compare.SameLog(sideBefore, sideAfter); twice {
		what := "is on both sides"
		if other != name {
			what = "is the same drive as " + other + ", which is on the other side"
		}
		return nil, &failure{where: name, what: what, hint: "a log compared with itself tells nothing; leave it out on one side"}
	}
	return &words.CompareReport{Version: version(), Before: before.Map, After: after.Map, Comparison: compare.New(sideBefore, sideAfter, by)}, nil
}
