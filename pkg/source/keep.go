package source

import (
	"io"
	"os"
)

// Keep copies everything from a reader into a private file, so that an input that can
// be read only once can be read again, by means of Input.Kept. The file disappears when
// it is closed, however the process ends.
func Keep(from io.Reader) (*os.File, error) {
	file, err := createTransient()
	if err != nil {
		return nil, err
	}
	if _, err := io.Copy(file, from); err != nil {
		file.Close()
		return nil, err
	}
	return file, nil
}
