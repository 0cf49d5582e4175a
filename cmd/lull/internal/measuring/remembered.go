package measuring

import (
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/words"
	"lull/pkg/source"
)

// rememberedPath is where the texts of a sheet lie that the user had remembered.
func rememberedPath() (string, error) {
	folder, err := os.UserConfigDir()
	return filepath.Join(folder, "lull", "sheet.json"), err
}

// Remembered returns what the user had remembered for the next sheet: nothing where there is
// nothing.
func Remembered() (page.Job, error) {
	var job page.Job
	path, err := rememberedPath()
	if err != nil {
		return job, nil // such a user has no settings
	}
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return job, nil
	}
	kept := map[string]string{}
	if err == nil {
		err = json.Unmarshal(text, &kept)
	}
	if err != nil {
		return job, &words.Failure{Where: path, What: "cannot be read: " + err.Error(), Hint: "remove it; --remember writes it anew", Cause: err}
	}
	for _, f := range page.Fields {
		if f.Kept {
			*f.Of(&job) = kept[f.Key]
		}
	}
	return job, nil
}

// Remember keeps of a job what the next sheet will have too.
func Remember(job page.Job) error {
	path, err := rememberedPath()
	if err == nil {
		err = os.MkdirAll(filepath.Dir(path), 0o700)
	}
	if err != nil {
		return &words.Failure{What: "there is no folder for your settings: " + err.Error(), Hint: "leave out --remember", Cause: err}
	}
	kept := map[string]string{}
	for _, f := range page.Fields {
		if text := *f.Of(&job); f.Kept && text != "" {
			kept[f.Key] = text
		}
	}
	text, err := json.MarshalIndent(kept, "", "  ")
	if err != nil {
		return err
	}
	return source.WriteFile(path, func(w io.Writer) error {
		_, err := w.Write(append(text, '\n'))
		return err
	})
}
