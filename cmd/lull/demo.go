package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"lull/analyze/scenario"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
	"lull/pkg/source"
)

const demoFolder = "lull-demo"

func newDemo(c *console) *cobra.Command {
	return &cobra.Command{
		Use:   "demo [FOLDER]",
		Short: "writes a demonstration and measures it",
		Long: "Writes maps and logs of drives in the motor pool of Tallowmere, which does not exist, into FOLDER (" + demoFolder +
			" where it is left out), and measures them: one is shown as lull episodes shows it, each other one in a line, and at the end stands what to do next. " +
			"The drives are generated, the same ones each time. " +
			"A file that is there already and differs is never written over.",
		Example: "  lull demo\n" +
			"  lull episodes " + demoFolder + "/slow-to-go-before.log\n" +
			"  lull standstills " + demoFolder,
		Args: wants(0, 1, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			folder := demoFolder
			if len(args) == 1 {
				folder = args[0]
			}
			quiet, _ := cmd.Flags().GetBool("quiet")
			files := scenario.Files()
			if err := writeDemo(c, quiet, folder, files); err != nil {
				return err
			}
			return measureDemo(cmd, c, folder, files)
		},
	}
}

// writeDemo writes the files that are not there yet, after checking that none would be
// overwritten.
func writeDemo(c *console, quiet bool, folder string, files []scenario.File) error {
	var missing []scenario.File
	var differing []string
	for _, f := range files {
		path := filepath.Join(folder, filepath.FromSlash(f.Name))
		there, err := os.ReadFile(path)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			missing = append(missing, f)
		case err != nil:
			return &words.Failure{Where: path, What: words.PlainError(err), Hint: "name another folder", Cause: err}
		case !bytes.Equal(there, f.Bytes()):
			differing = append(differing, path)
		}
	}
	if len(differing) > 0 {
		return &words.Failure{Where: strings.Join(differing, ", "), What: "there already and different from the demonstration; nothing was written",
			Hint: "name another folder"}
	}
	for _, f := range missing {
		path := filepath.Join(folder, filepath.FromSlash(f.Name))
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			return &words.Failure{Where: filepath.Dir(path), What: words.PlainError(err), Hint: "name another folder", Cause: err}
		}
		content := f.Bytes()
		err := source.WriteFile(path, func(w io.Writer) error {
			_, err := w.Write(content)
			return err
		})
		if err != nil {
			return err
		}
	}
	if quiet {
		return nil
	}
	fmt.Fprintf(c.err, "%s holds:\n", words.Visible(folder))
	for _, f := range files {
		fmt.Fprintf(c.err, "%s\n", table.WrapHanging(f.Title, c.width, fmt.Sprintf("  %-28s ", f.Name), strings.Repeat(" ", 31)))
	}
	fmt.Fprintln(c.err)
	return nil
}

// shownDrive is the drive of the demonstration whose result is printed in full.
const shownDrive = "town.log"

// measureDemo measures every drive of the demonstration and prints one in full, a line for
// each other, and what to do next.
func measureDemo(cmd *cobra.Command, c *console, folder string, files []scenario.File) error {
	flags := logFlags{outFlags: outFlags{formats: resultFormats}}
	if err := measureLogs(cmd, c, &flags, []string{filepath.Join(folder, shownDrive)}, words.Episodes); err != nil {
		return err
	}
	others, err := otherDrives(cmd, c, folder, files)
	if err != nil {
		return err
	}
	return emit(c, "", func(w io.Writer) error {
		fmt.Fprint(w, "\nThe other drives\n\n")
		if err := table.WriteOverview(w, others, c.style()); err != nil {
			return err
		}
		return suggest(w, folder)
	})
}

// otherDrives measures the other drives, those of each map together.
func otherDrives(cmd *cobra.Command, c *console, folder string, files []scenario.File) ([]words.Overview, error) {
	var folders []string // slash-separated
	drives := map[string][]string{}
	for _, f := range files {
		if path.Ext(f.Name) != ".log" || f.Name == shownDrive {
			continue
		}
		in := path.Dir(f.Name)
		if drives[in] == nil {
			folders = append(folders, in)
		}
		drives[in] = append(drives[in], filepath.Join(folder, filepath.FromSlash(f.Name)))
	}
	var list []words.Overview
	for _, in := range folders {
		logs, err := newLogs(cmd, c, &logFlags{}, drives[in])
		if err != nil {
			return nil, err
		}
		r, _, err := logs.Report(cmd.Context(), false)
		if err != nil {
			return nil, err
		}
		for i := range r.Logs {
			r.Logs[i].Name = path.Join(in, r.Logs[i].Name)
		}
		list = append(list, r.Overviews()...)
	}
	return list, nil
}

// suggest says what to do next. Its commands are on lines of their own, unwrapped, so that
// they can be copied.
func suggest(w io.Writer, folder string) error {
	in := func(name string) string { return quoted(filepath.Join(folder, name)) }
	_, err := fmt.Fprintf(w, `
What to do next

Every restart of the car that is slow to go:
  lull episodes %s
What its repair changed:
  lull compare --before %s --after %s
The same on a page for the browser; drop the logs and map.yaml there:
  lull serve --open
`, in("slow-to-go-before.log"), in("slow-to-go-before.log"), in("slow-to-go-after.log"))
	return err
}

// quoted quotes a path for a shell.
func quoted(path string) string {
	path = words.Visible(path)
	if strings.ContainsAny(path, " \t\"'`$&|;<>()*?[]#!") {
		return "'" + strings.ReplaceAll(path, "'", `'\''`) + "'"
	}
	return path
}
