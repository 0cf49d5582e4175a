package source

import (
	"io"
	"os"
)

// Keep reads all that comes into a private file, so that an input that can be read
// only once can be read again: as its Kept. The file is gone when it is closed,
// however the process ends.
func Keep(from io.Reader) (*os.File, error) {
	file, err := createPassing()
	if err != nil {
		return nil, err
	}
	if _, err := io.Copy(file, from); err != nil {
		file.Close()
		return nil, err
	}
	return file, nil
}
