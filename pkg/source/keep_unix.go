//go:build linux || darwin

package source

import (
	"errors"
	"os"
)

// createTransient creates a private file that disappears when it is closed.
func createTransient() (*os.File, error) {
	file, err := os.CreateTemp("", "lull-*")
	if err != nil {
		return nil, err
	}
	if err := os.Remove(file.Name()); err != nil { // the open file stays usable
		return nil, errors.Join(err, file.Close())
	}
	return file, nil
}
