package source

import (
	"errors"
	"io/fs"
	"syscall"
)

// Sentinels that an Error wraps, besides those of io/fs.
var (
	ErrNoLogs  = errors.New("no logs in this folder")
	ErrFolder  = errors.New("this is a folder")
	ErrDamaged = errors.New("the packed data is damaged or cut off")
	ErrPacking = errors.New("packed in an unsupported way")
	ErrLocked  = errors.New("locked by another program")
)

// Error describes in plain words what went wrong with a file and what to do about it.
type Error struct {
	Path string // as given
	Why  string
	Hint string // what to do; may be empty
	Err  error  // the cause, for errors.Is
}

func (e *Error) Error() string {
	text := e.Path + ": " + e.Why
	if e.Hint != "" {
		text += "; " + e.Hint
	}
	return text
}

func (e *Error) Unwrap() error { return e.Err }

// plain turns an error of the file system about the file at path into an *Error.
func plain(path string, err error) error {
	if err == nil {
		return nil
	}
	var known *Error
	if errors.As(err, &known) {
		return err
	}
	if path == "" {
		path = `""`
	}
	e := &Error{Path: path, Err: err}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		e.Why, e.Hint = "no such file", "check the name and the folder you are in"
	case errors.Is(err, fs.ErrPermission):
		e.Why, e.Hint = "permission denied", "change its permissions, or choose another place"
	case errors.Is(err, syscall.EROFS):
		e.Why, e.Hint = "its disk is read-only", "choose another place"
	case errors.Is(err, fs.ErrExist):
		e.Why, e.Hint = "already exists", "name another file; lull never overwrites a log"
	case errors.Is(err, ErrLocked):
		e.Why, e.Hint = "another program is recording into it", "name another file"
	case errors.Is(err, syscall.ENOSPC):
		e.Why, e.Hint = "the disk is full", "make room or choose another place"
	case errors.Is(err, syscall.EDQUOT):
		e.Why, e.Hint = "your disk quota is used up", "make room or choose another place"
	case errors.Is(err, syscall.EFBIG):
		e.Why, e.Hint = "the file size limit is reached", "choose another disk, or raise the limit (ulimit -f)"
	default:
		// The path is in e.Path already; the rest of a PathError is the system's text.
		var cause *fs.PathError
		if errors.As(err, &cause) {
			err = cause.Err
		}
		e.Why = err.Error()
	}
	return e
}
