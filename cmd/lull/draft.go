package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/document"
	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
)

func newDraft(c *console) *cobra.Command {
	flags := logFlags{mapless: true}
	var order measuring.DraftOrder
	var how, asJSON bool
	var into string
	cmd := &cobra.Command{
		Use:   "draft LOG...",
		Short: "drafts a signal map from logs of a car of which there is none",
		Long: "Reads logs of one car and proposes a signal map: where engine speed, road speed, voltage, brake and the other signals are. " +
			"It looks for what only a car that stops its engine and starts it again shows: a number that rests at zero, is cranked, settles and comes down; " +
			"a voltage that dips with each crank; switches that go with stops and starts. Answers to a scan tool and parameter groups of J1939 come first where the log has them.\n" +
			"Everything is a proposal: above each signal stands how far its field can be relied on, and its factor (sure, likely, guess), with the reason. " +
			"The map is yours to check. First the answer is given in words: what was found, what not and why, what to do next, and what the logs measure by this map; " +
			"that is the check to begin with: were there as many stops as it says?\n" +
			"The recording decides more than anything else: lull draft --how prints what to do in the car while recording.",
		Example: "  lull draft --how\n" +
			"  lull draft drive.log -o map.yaml\n" +
			"  lull episodes drive.log --map map.yaml\n" +
			"  lull draft drive.log --into car.yaml\n" +
			"  lull draft drive.log other-drive.log --marks drive.marks -o map.yaml\n" +
			"  lull draft drive.log --format json | jq '.signals[] | {name, field, factor}'",
		Annotations: map[string]string{
			sectionFormats: "yaml: the map, with the answer as a comment above it.\n" +
				"json: every proposal with its place, how far it can be relied on, its evidence and its rivals.\n" +
				"With -o the map goes into the file, and the answer to standard output.",
			sectionExit: "0: a map was drafted.\n1: no engine speed was found, so that there is no map; or something cannot be read.\n2: wrong use."},
		Args: func(cmd *cobra.Command, args []string) error {
			if how {
				return nil
			}
			return wants(1, -1, "the log")(cmd, args)
		},
	}
	cmd.Flags().StringVar(&order.Marks, "marks", "", "a `FILE` of marks on the first log, lines `NAME FROM TO [VALUE UNIT]` in s from its first frame")
	cmd.Flags().StringVar(&order.Database, "dbc", "", "a `FILE` in DBC format that describes the bus; its words nominate signals, how they behave decides")
	flags.outFlags.register(cmd, formatYAML, formatJSON)
	cmd.Flags().StringVar(&into, "into", "", "add to the `MAP` what it does not have, below what stands there, which stays as it is")
	cmd.Flags().BoolVar(&asJSON, "json", false, "the same as --format json")
	cmd.Flags().StringVar(&flags.bus, "bus", "", "use only frames of the interface `NAME`")
	flags.registerStamps(cmd)
	cmd.Flags().BoolVar(&how, "how", false, "print what to do in the car while recording")
	cmd.Flags().SortFlags = false
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if how {
			return emit(c, flags.out, func(w io.Writer) error {
				return table.WriteSteps(w, words.HowToRecord(), c.styleFor(flags.out))
			})
		}
		if asJSON && flags.format == "" {
			flags.format = formatJSON
		}
		return draftMap(cmd, c, &flags, order, into, args)
	}
	return cmd
}

func draftMap(cmd *cobra.Command, c *console, flags *logFlags, order measuring.DraftOrder, into string, args []string) error {
	format, err := flags.choose()
	if err != nil {
		return err
	}
	if into != "" && flags.out != "" {
		return words.Misused("leave one of them out", "--into adds to a map and -o writes a new one")
	}
	if err := notThere(flags.out); err != nil {
		return err
	}
	logs, err := newLogs(cmd, c, flags, args)
	if err != nil {
		return err
	}
	d, text, failed, err := logs.Draft(cmd.Context(), order)
	if err != nil {
		return err
	}
	toFile := flags.out != "" && flags.out != "-"
	switch {
	case format == formatJSON:
		if err := emit(c, flags.out, func(w io.Writer) error { return document.WriteDraftJSON(w, d) }); err != nil {
			return err
		}
	case into != "" && text != nil:
		added, err := measuring.Into(into, d)
		if err != nil {
			return err
		}
		if err := emit(c, "", func(w io.Writer) error { return table.WriteDraftInto(w, d, into, added, args, c.style()) }); err != nil {
			return err
		}
	case text == nil || toFile:
		if text != nil {
			if err := emit(c, flags.out, func(w io.Writer) error { _, err := w.Write(text); return err }); err != nil {
				return err
			}
		}
		if err := emit(c, "", func(w io.Writer) error { return table.WriteDraft(w, d, flags.out, args, c.style()) }); err != nil {
			return err
		}
	default:
		if err := emit(c, flags.out, func(w io.Writer) error { _, err := w.Write(text); return err }); err != nil {
			return err
		}
	}
	if text == nil || failed {
		return words.ErrTold
	}
	return nil
}

// notThere refuses to overwrite a map, which may be somebody's work.
func notThere(path string) error {
	if path == "" || path == "-" {
		return nil
	}
	if _, err := os.Lstat(path); errors.Is(err, os.ErrNotExist) {
		return nil
	} else if err != nil {
		return &words.Failure{Where: path, What: words.PlainError(err), Hint: "name another file", Cause: err}
	}
	return words.Misused("name a new file, or remove that one first", "%s is there already; a draft is never written over a file", fmt.Sprint(path))
}
