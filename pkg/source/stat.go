package source

import "io/fs"

// Stat tells what a stream is, where it is a file; fs.ErrInvalid where it is none.
func Stat(stream any) (fs.FileInfo, error) {
	if file, ok := stream.(interface{ Stat() (fs.FileInfo, error) }); ok {
		return file.Stat()
	}
	return nil, fs.ErrInvalid
}
