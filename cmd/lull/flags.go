package main

import (
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/source"
)

// The formats, by their names in --format.
const (
	formatTable    = "table"
	formatCSV      = "csv"
	formatJSON     = "json"
	formatNDJSON   = "ndjson"
	formatMarkdown = "markdown"
	formatHTML     = "html"
	formatPDF      = "pdf"
	formatXLSX     = "xlsx"
	formatYAML     = "yaml" // a signal map
)

// formatOfEnding maps the ending of an output file to a format.
var formatOfEnding = map[string]string{
	".txt": formatTable, ".csv": formatCSV, ".json": formatJSON, ".ndjson": formatNDJSON,
	".jsonl": formatNDJSON, ".md": formatMarkdown, ".markdown": formatMarkdown,
	".yaml": formatYAML, ".yml": formatYAML, ".html": formatHTML, ".htm": formatHTML, ".pdf": formatPDF, ".xlsx": formatXLSX,
}

var stampNames = []string{"absolute", "zero", "delta"}

// logFlags are the flags that all commands on logs share.
type logFlags struct {
	mapPath, bus, stampName string
	check, mapless          bool
	outFlags
}

// outFlags say where a result goes and in which form. The first format is the default.
type outFlags struct {
	formats     []string
	format, out string
	// elsewhere, unless nil, returns the words of the command that writes a format which is
	// not one of these, nil if none does.
	elsewhere func(format string) []string
}

func (f *outFlags) register(cmd *cobra.Command, formats ...string) {
	f.formats = formats
	cmd.Flags().StringVar(&f.format, "format", "", "`FORMAT` of the result: "+strings.Join(formats, ", "))
	cmd.Flags().StringVarP(&f.out, "output", "o", "", "write the result to `FILE`, whole or not at all; its ending implies the format")
	complete(cmd, "format", formats)
}

func (f *logFlags) register(cmd *cobra.Command, check bool, formats ...string) {
	cmd.Flags().StringVar(&f.mapPath, "map", "", "signal map, a YAML `FILE`; default: map.yaml beside the log or in the folder")
	f.outFlags.register(cmd, formats...)
	cmd.Flags().StringVar(&f.bus, "bus", "", "decode only frames of the interface `NAME`")
	f.registerStamps(cmd)
	if check {
		cmd.Flags().BoolVar(&f.check, "check", false, "end with status 3 where a limit of the map is broken or a log cannot be used")
	}
	cmd.Flags().SortFlags = false
}

// registerStamps adds --stamps alone.
func (f *logFlags) registerStamps(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.stampName, "stamps", "", "read time stamps as `KIND`: absolute, zero (from the log's start) or delta (from line to line); default: the log decides")
	complete(cmd, "stamps", stampNames)
}

// complete offers the values of a flag to the shell.
func complete(cmd *cobra.Command, flag string, values []string) {
	err := cmd.RegisterFlagCompletionFunc(flag, cobra.FixedCompletions(values, cobra.ShellCompDirectiveNoFileComp))
	if err != nil {
		panic(err) // a bug: the flag is not registered
	}
}

// choose returns the format: --format, else that of the output file's ending, else the
// default.
func (f *outFlags) choose() (string, error) {
	known := "known are " + strings.Join(f.formats, ", ")
	if f.format != "" {
		if !slices.Contains(f.formats, f.format) {
			if line := f.other(f.format); line != "" {
				return "", words.Misused(line+" writes that", "--format %s: no such format here", f.format)
			}
			return "", words.Misused(suggestion(nearest(f.format, f.formats), "", known), "--format %s: no such format here", f.format)
		}
		return f.format, nil
	}
	ending := strings.ToLower(filepath.Ext(f.out))
	if f.out == "" || f.out == "-" || ending == "" {
		return f.formats[0], nil
	}
	format, ok := formatOfEnding[ending]
	if !ok || !slices.Contains(f.formats, format) {
		if line := f.other(format); line != "" {
			return "", words.Misused(line+" writes that", "%s: the ending %s stands for no format here", f.out, ending)
		}
		return "", words.Misused("say which with --format: "+strings.Join(f.formats, ", "), "%s: the ending %s stands for no format here", f.out, ending)
	}
	return format, nil
}

// other returns the command line that writes a format which is not written here, "" if none
// does.
func (f *outFlags) other(format string) string {
	if f.elsewhere == nil {
		return ""
	}
	line := f.elsewhere(format)
	if line == nil {
		return ""
	}
	if f.format != "" {
		line = append(line, "--format", f.format)
	}
	if f.out != "" && f.out != source.Stdin {
		line = append(line, "-o", f.out)
	} else if slices.Contains(filesOnly, format) {
		line = append(line, "-o", "FILE."+format)
	}
	for i := range line {
		line[i] = quoted(line[i])
	}
	return strings.Join(line, " ")
}

// commandOn adds the map that was named to a command line.
func (f *logFlags) commandOn(line ...string) []string {
	if f.mapPath != "" {
		line = append(line, "--map", f.mapPath)
	}
	return line
}

// filesOnly are the formats that cannot be read on a terminal.
var filesOnly = []string{formatHTML, formatPDF, formatXLSX}

// chooseFor is choose, but demands a file for such a format if the output is a terminal.
func (f *outFlags) chooseFor(c *console) (string, error) {
	format, err := f.choose()
	if err == nil && c.outTerminal && (f.out == "" || f.out == "-") && slices.Contains(filesOnly, format) {
		return "", words.Misused("name a file: -o FILE."+format, "%s is not written to a terminal", format)
	}
	return format, err
}

// stamps parses --stamps.
func (f *logFlags) stamps() (decode.Stamps, error) {
	switch f.stampName {
	case "":
		return decode.StampsUnknown, nil
	case "absolute":
		return decode.StampsAbsolute, nil
	case "zero":
		return decode.StampsZero, nil
	case "delta":
		return decode.StampsDelta, nil
	}
	return 0, words.Misused(suggestion(nearest(f.stampName, stampNames), "", "known are absolute, zero and delta"),
		"--stamps %s: no such kind of stamps", f.stampName)
}
