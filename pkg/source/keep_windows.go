package source

import (
	"os"

	"golang.org/x/sys/windows"
)

// createTransient creates a private file that disappears when it is closed.
func createTransient() (*os.File, error) {
	named, err := os.CreateTemp("", "lull-*")
	if err != nil {
		return nil, err
	}
	named.Close()
	return os.OpenFile(named.Name(), os.O_RDWR|windows.O_FILE_FLAG_DELETE_ON_CLOSE, 0o600)
}
