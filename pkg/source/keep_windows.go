package source

import (
	"os"

	"golang.org/x/sys/windows"
)

// createPassing creates a private file that is gone when it is closed.
func createPassing() (*os.File, error) {
	named, err := os.CreateTemp("", "lull-*")
	if err != nil {
		return nil, err
	}
	named.Close()
	return os.OpenFile(named.Name(), os.O_RDWR|windows.O_FILE_FLAG_DELETE_ON_CLOSE, 0o600)
}
