package source

import "io/fs"

// Stat returns the FileInfo of a stream that is a file, or fs.ErrInvalid if it is not.
func Stat(stream any) (fs.FileInfo, error) {
	if file, ok := stream.(interface{ Stat() (fs.FileInfo, error) }); ok {
		return file.Stat()
	}
	return nil, fs.ErrInvalid
}
