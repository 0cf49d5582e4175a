package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lull/analyze/scenario"
	"lull/cmd/lull/internal/measuring"
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
			" where it is left out), and runs lull episodes on them. The drives are generated, the same ones each time. " +
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

// writeDemo writes the files that are not there yet, once it is clear that none
// of them would be written over.
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

// measureDemo runs the main job on each folder of the demonstration that has a
// map of its own.
func measureDemo(cmd *cobra.Command, c *console, folder string, files []scenario.File) error {
	var folders []string
	for _, f := range files {
		path := filepath.FromSlash(f.Name)
		if filepath.Base(path) == measuring.MapName {
			folders = append(folders, filepath.Join(folder, filepath.Dir(path)))
		}
	}
	slices.Sort(folders)
	for i, f := range folders {
		if i > 0 {
			fmt.Fprintln(c.out)
		}
		flags := logFlags{outFlags: outFlags{formats: resultFormats}}
		if err := tell(cmd, c, &flags, []string{f}, words.Episodes); err != nil {
			return err
		}
	}
	return nil
}
