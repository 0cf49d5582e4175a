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

// WriteFile writes a file whole or not at all: into another one in the same folder,
// which takes the file's place once it is safely on disk. The mode of a file that is
// there already is kept, a link is followed, also to a file that is not there yet, and
// a file that this user may not write to stays as it is. Devices and pipes such as
// /dev/stdout are written straight. Errors of write are returned as they are, those of
// the file as *Error; after either nothing is left beside it.
func WriteFile(path string, write func(io.Writer) error) error {
	info, err := os.Stat(path)
	there := err == nil
	switch {
	case there && info.IsDir():
		return &Error{Path: path, Why: "a folder, not a file", Hint: "name a file in it", Err: ErrFolder}
	case there && (!info.Mode().IsRegular() || isDescriptor(path)):
		return writeStraight(path, write)
	case there:
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
		return &Error{Path: path, Why: "its folder does not exist", Hint: "make the folder, or name another", Err: err}
	case errors.Is(err, fs.ErrPermission):
		return &Error{Path: path, Why: "in its folder no file may be made", Hint: "allow yourself to write there, or name another", Err: err}
	case err != nil:
		return plain(path, err)
	}
	defer d.drop() // also when write panics
	if err := fill(path, d, write); err != nil {
		return err
	}
	if there {
		if err := d.Chmod(info.Mode().Perm()); err != nil {
			return plain(path, err)
		}
	}
	return plain(path, d.place())
}

// mayWrite asks the system whether this user may write to a file that is there: its
// mode is not all that decides.
func mayWrite(path string) error {
	file, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err == nil {
		err = file.Close()
	}
	return err
}

// behindLinks returns the file that a path stands for, also where nothing is there yet.
func behindLinks(path string) (string, error) {
	const most = 40 // as the kernel follows
	for range most {
		link, err := os.Readlink(path)
		if err != nil {
			return path, nil // no link
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

// isDescriptor reports whether a path stands for a file that this process has
// open already. It must not be replaced, even where it is a regular file.
func isDescriptor(path string) bool {
	path = filepath.ToSlash(filepath.Clean(path))
	return path == "/dev/stdout" || path == "/dev/stderr" || strings.HasPrefix(path, "/dev/fd/") ||
		strings.HasPrefix(path, "/proc/") && strings.Contains(path, "/fd/")
}

// writeStraight writes to what cannot be replaced, behind what is there.
func writeStraight(path string, write func(io.Writer) error) error {
	switch filepath.ToSlash(filepath.Clean(path)) {
	case "/dev/stdout": // opening it anew fails where it is a socket
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

// fill has write write to the file, buffered. Where write fails of itself, what
// is in the buffer is not written: a pipe gets no half a table.
func fill(path string, file io.Writer, write func(io.Writer) error) error {
	watched := &faultWatch{file: file}
	out := bufio.NewWriterSize(watched, 64<<10)
	err := write(out)
	if err == nil {
		err = out.Flush()
	}
	if watched.fault != nil {
		// A full disk is what to tell, whatever write made of it.
		return plain(path, watched.fault)
	}
	return err
}

// faultWatch remembers the error of the file it writes to.
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
