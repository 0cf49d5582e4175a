//go:build linux || darwin

package source

import (
	"errors"
	"os"
)

// createPassing creates a private file that is gone when it is closed.
func createPassing() (*os.File, error) {
	file, err := os.CreateTemp("", "lull-*")
	if err != nil {
		return nil, err
	}
	if err := os.Remove(file.Name()); err != nil { // it stays until it is closed
		return nil, errors.Join(err, file.Close())
	}
	return file, nil
}
