package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/dbc"
	"lull/decode/fromdbc"
)

func newMapFrom(c *console) *cobra.Command {
	var signals, roles []string
	var flags outFlags
	cmd := &cobra.Command{
		Use:   "from FILE.dbc",
		Short: "makes a map of a database of the bus, without a log",
		Long: "Reads a database of the bus in DBC format and writes its signals as a map: the same bits, factors, units and words. " +
			"Nothing is guessed. What of the file is not sound is told on standard error with its line and the rest is written; " +
			"what a map cannot say stands in it as a comment, with the reason.\n" +
			"lull measures by a map in which a signal has the role engine_speed. Say with --roles which signals have which roles, " +
			"or write the roles into the map: a database does not tell them. Where you do not know, let a log decide: lull draft drive.log --dbc FILE.dbc.\n" +
			"--signals takes names, MESSAGE.SIGNAL, and patterns with * and ?. What selects them comes along. " +
			"--roles takes ROLE=SIGNAL, and ROLE=SIGNAL:UNIT where the database lacks the unit.\n" +
			"Groups of J1939 become pgn entries: those that the file calls so, and where it does not say, those sent from address 254, which stands for any sender. " +
			"Values whose word says that they are none (SNA, invalid, not available) count as not seen. Ranges are told and not used.",
		Example: "  lull map from car.dbc -o map.yaml\n" +
			"  lull map from car.dbc --roles engine_speed=EngSpd,vehicle_speed=VehSpd -o map.yaml\n" +
			"  lull map from car.dbc --signals 'Engine*.*,*Brake*' --roles engine_speed=EngineData.EngSpd:rpm -o map.yaml\n" +
			"  lull map check map.yaml --log drive.log",
		Annotations: map[string]string{sectionExit: "0: a map was written.\n1: the file cannot be read or has no message; nothing was written.\n2: wrong use."},
		Args:        wants(1, 1, "the database"),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return []string{"dbc"}, cobra.ShellCompDirectiveFilterFileExt
		},
	}
	cmd.Flags().StringSliceVar(&signals, "signals", nil, "`NAMES` of signals to take, with commas between; default: all")
	cmd.Flags().StringSliceVar(&roles, "roles", nil, "`ROLE=SIGNAL` pairs, with commas between: what signals mean to lull")
	flags.register(cmd, formatYAML)
	cmd.Flags().SortFlags = false
	if err := cmd.RegisterFlagCompletionFunc("roles", completeRoles); err != nil {
		panic(err) // the flag is not registered: a mistake in this program
	}
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if _, err := flags.choose(); err != nil {
			return err
		}
		given, err := rolesOf(roles)
		if err != nil {
			return err
		}
		if err := notThere(flags.out); err != nil {
			return err
		}
		quiet, _ := cmd.Flags().GetBool("quiet")
		return mapFrom(c, args[0], flags.out, quiet, fromdbc.Order{File: filepath.Base(args[0]), Signals: signals, Roles: given})
	}
	return cmd
}

// roleNames are the keys of all roles.
func roleNames() []string {
	var names []string
	for r := decode.NoRole + 1; r < decode.RoleCount; r++ {
		names = append(names, r.String())
	}
	return names
}

// completeRoles offers the roles after the last comma.
func completeRoles(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
	before := typed[:strings.LastIndexByte(typed, ',')+1]
	var list []string
	for _, name := range roleNames() {
		list = append(list, before+name+"=")
	}
	return list, cobra.ShellCompDirectiveNoSpace | cobra.ShellCompDirectiveNoFileComp
}

// rolesOf reads --roles.
func rolesOf(pairs []string) ([]fromdbc.RoleOf, error) {
	var list []fromdbc.RoleOf
	for _, pair := range pairs {
		name, signal, ok := strings.Cut(pair, "=")
		name, signal = strings.TrimSpace(name), strings.TrimSpace(signal)
		signal, unit, _ := strings.Cut(signal, ":")
		if !ok || signal == "" {
			return nil, words.Misused("write ROLE=SIGNAL, such as engine_speed=EngSpd", "--roles %s: no role and signal", pair)
		}
		role, known := decode.RoleByName(name)
		if !known {
			return nil, words.Misused(suggestion(nearest(name, roleNames()), "", "roles: "+strings.Join(roleNames(), ", ")), "--roles %s: there is no role %s", pair, name)
		}
		list = append(list, fromdbc.RoleOf{Role: role, Signal: signal, Unit: strings.TrimSpace(unit)})
	}
	return list, nil
}

// mostTold is how many mistakes of a database are told one by one.
const mostTold = 20

func mapFrom(c *console, path, out string, quiet bool, order fromdbc.Order) error {
	tell := func(text string) {
		if !quiet {
			say(c.err, text)
		}
	}
	d, err := dbc.Load(path)
	var failed *words.Failure
	switch {
	case errors.As(err, &failed):
		return err
	case err != nil:
		return &words.Failure{Where: path, What: words.PlainError(err), Hint: "check the name", Cause: err}
	}
	for i, m := range d.Mistakes {
		if i == mostTold {
			tell(fmt.Sprintf("%s: %d further places are not sound", path, len(d.Mistakes)-mostTold+d.Further))
			break
		}
		tell(fmt.Sprintf("%s:%d: %s", path, m.Line, m.What))
	}
	m, err := fromdbc.Map(d, order)
	if errors.As(err, &failed) {
		return words.Misused(failed.Hint, "%s", failed.What)
	}
	if err != nil {
		return err
	}
	if err := emit(c, out, func(w io.Writer) error { _, err := w.Write(m.YAML); return err }); err != nil {
		return err
	}
	toFile := out != "" && out != "-"
	if !toFile {
		out = "map.yaml"
	}
	text := fmt.Sprintf("%d of %s in %s", m.Signals, decode.Counted(int64(m.Of), "signal", "signals"), decode.Counted(int64(m.Frames), "frame", "frames"))
	if m.Out > 0 {
		text += fmt.Sprintf("; left out, and kept as comments with the reason: %d", m.Out)
	}
	if toFile {
		text = out + ": " + text
	}
	tell(text)
	if m.Whole {
		tell("next: hold it against a drive: lull map check " + quoted(out) + " --log LOG")
		return nil
	}
	speed := "SIGNAL"
	hint := "which signal that is, a database does not say"
	if len(m.Speeds) > 0 {
		speed = m.Speeds[0]
		hint = "by unit or name alone it may be " + strings.Join(m.Speeds, ", ")
	}
	tell("no signal has the role engine_speed, and without it nothing can be measured; " + hint)
	again := "lull map from " + quoted(path) + " --roles engine_speed=" + quoted(speed) + " -o " + quoted(out)
	if toFile {
		again = "add role: engine_speed to it in " + quoted(out)
	}
	tell("next: " + again + "; or let a log decide: lull draft LOG --dbc " + quoted(path))
	return nil
}
