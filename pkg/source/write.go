package source

import (
	"bufio"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// WriteFile writes a file completely or not at all. It writes into another file in the
// same folder, which takes the place of the first once it is safely on disk. It keeps
// the mode of an existing file, follows links even to a file that does not exist yet,
// and refuses to replace a file that this user may not write to. Devices and pipes such
// as /dev/stdout are written directly. Errors of write are returned unchanged, errors of
// the file as *Error. After an error nothing is left behind.
func WriteFile(path string, write func(io.Writer) error) error {
	info, err := os.Stat(path)
	exists := err == nil
	switch {
	case exists && info.IsDir():
		return &Error{Path: path, Why: "a folder, not a file", Hint: "name a file in it", Err: ErrFolder}
	case exists && (!info.Mode().IsRegular() || isDescriptor(path)):
		return writeDirectly(path, write)
	case exists:
		if err := mayWrite(path); err != nil {
			return plain(path, err)
		}
	}
	target, err := behindLinks(path)
	if err != nil {
		return plain(path, err)
	}
	d, err := newDraft(target)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return &Error{Path: path, Why: "its folder does not exist", Hint: "create the folder, or name another", Err: err}
	case errors.Is(err, fs.ErrPermission):
		return &Error{Path: path, Why: "you may not create files in its folder", Hint: "change the folder's permissions, or name another folder", Err: err}
	case err != nil:
		return plain(path, err)
	}
	defer d.drop() // even if write panics
	if err := fill(path, d, write); err != nil {
		return err
	}
	if exists {
		if err := d.Chmod(info.Mode().Perm()); err != nil {
			return plain(path, err)
		}
	}
	return plain(path, d.place())
}

// mayWrite returns nil if this user may write to an existing file. It tries to open the
// file, since the mode alone does not decide.
func mayWrite(path string) error {
	file, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err == nil {
		err = file.Close()
	}
	return err
}

// behindLinks returns the path of the file that path leads to through links, even if
// that file does not exist yet.
func behindLinks(path string) (string, error) {
	const most = 40 // as many links as the Linux kernel follows
	for range most {
		link, err := os.Readlink(path)
		if err != nil {
			return path, nil // not a link
		}
		if !filepath.IsAbs(link) {
			folder, err := filepath.EvalSymlinks(filepath.Dir(path))
			if err != nil {
				return "", err
			}
			link = filepath.Join(folder, link)
		}
		path = link
	}
	return "", &fs.PathError{Op: "readlink", Path: path, Err: syscall.ELOOP}
}

// isDescriptor reports whether a path stands for a file that this process already has
// open. Such a file must not be replaced, even if it is a regular file.
func isDescriptor(path string) bool {
	path = filepath.ToSlash(filepath.Clean(path))
	return path == "/dev/stdout" || path == "/dev/stderr" || strings.HasPrefix(path, "/dev/fd/") ||
		strings.HasPrefix(path, "/proc/") && strings.Contains(path, "/fd/")
}

// writeDirectly writes to a file that cannot be replaced. It appends to what is there.
func writeDirectly(path string, write func(io.Writer) error) error {
	switch filepath.ToSlash(filepath.Clean(path)) {
	case "/dev/stdout": // opening it again fails if it is a socket
		return fill(path, os.Stdout, write)
	case "/dev/stderr":
		return fill(path, os.Stderr, write)
	}
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0)
	if err != nil {
		return plain(path, err)
	}
	err = fill(path, file, write)
	if closed := file.Close(); err == nil {
		err = plain(path, closed)
	}
	return err
}

// fill calls write with a buffered writer to the file. If write fails for a reason of
// its own, the buffer is discarded, so that a pipe does not get half a table.
func fill(path string, file io.Writer, write func(io.Writer) error) error {
	watched := &faultWatch{file: file}
	out := bufio.NewWriterSize(watched, 64<<10)
	err := write(out)
	if err == nil {
		err = out.Flush()
	}
	if watched.fault != nil {
		// Report the fault itself, such as a full disk, whatever write made of it.
		return plain(path, watched.fault)
	}
	return err
}

// faultWatch remembers the last error of the file that it writes to.
type faultWatch struct {
	file  io.Writer
	fault error
}

func (w *faultWatch) Write(p []byte) (int, error) {
	n, err := w.file.Write(p)
	if err != nil {
		w.fault = err
	}
	return n, err
}
