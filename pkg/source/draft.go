package source

import (
	"errors"
	"io"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// draft is a file that is written beside its target until it takes its place. Where
// the system has files without a name it has none until then, so that nothing is left
// of it, however the process ends. Elsewhere it has a hidden one, and is locked.
type draft struct {
	*os.File
	target string
	name   string // "": none
}

const (
	draftBegins, draftEnds = ".lull-", ".tmp"
	// abandoned is when a draft that nobody holds is nobody's: longer than it takes to
	// lock a new one, or to rename one that is closed.
	abandoned = time.Minute
)

// Tests have other systems in their place.
var openUnnamed, linkUnnamed = createUnnamed, nameUnnamed

func newDraft(target string) (*draft, error) {
	removeAbandoned(filepath.Dir(target))
	d := &draft{target: target}
	var err error
	if d.File, err = openUnnamed(filepath.Dir(target)); err != nil {
		err = d.create()
	}
	return d, err
}

// create gives the draft a file with a hidden name. Unlike os.CreateTemp it leaves the
// mode of a new file to the umask.
func (d *draft) create() error {
	err := d.hide(func(name string) (err error) {
		d.File, err = os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		return err
	})
	if err == nil {
		_ = Lock(d.File) // what cannot be locked is never taken for abandoned
	}
	return err
}

// hide finds a hidden name beside the target at which nothing lies yet.
func (d *draft) hide(put func(name string) error) error {
	for try := 0; ; try++ {
		name := filepath.Join(filepath.Dir(d.target), draftBegins+strconv.FormatUint(rand.Uint64(), 36)+draftEnds)
		err := put(name)
		if err == nil {
			d.name = name
		}
		if !errors.Is(err, fs.ErrExist) || try == 100 {
			return err
		}
	}
}

// place makes sure of what was written and puts it in the target's place.
func (d *draft) place() error {
	if err := d.Sync(); err != nil {
		return err
	}
	if d.name == "" {
		err := linkUnnamed(d.File, d.target)
		if err == nil {
			return d.Close() // nothing was there
		}
		// No link replaces a file: only a name can be renamed.
		if errors.Is(err, fs.ErrExist) {
			err = d.hide(func(name string) error { return linkUnnamed(d.File, name) })
		}
		if err != nil { // there are no links here
			if err = d.copy(); err == nil {
				err = d.place()
			}
			return err
		}
	}
	if err := d.Close(); err != nil {
		return err
	}
	err := os.Rename(d.name, d.target)
	if err == nil {
		d.name = ""
	}
	return err
}

// copy gives the draft a file that has a name.
func (d *draft) copy() error {
	unnamed := d.File
	defer unnamed.Close()
	info, err := unnamed.Stat()
	if err == nil {
		err = d.create()
	}
	if err == nil {
		err = d.Chmod(info.Mode().Perm())
	}
	if err == nil {
		_, err = io.Copy(d.File, io.NewSectionReader(unnamed, 0, math.MaxInt64))
	}
	return err
}

// drop gives up a draft that was not placed.
func (d *draft) drop() {
	d.Close()
	if d.name != "" {
		os.Remove(d.name)
	}
}

// removeAbandoned removes the drafts that killed processes left in a folder.
func removeAbandoned(folder string) {
	entries, _ := os.ReadDir(folder) // what is wrong with it newDraft tells
	for _, entry := range entries {
		if !strings.HasPrefix(entry.Name(), draftBegins) || !strings.HasSuffix(entry.Name(), draftEnds) {
			continue
		}
		info, err := entry.Info()
		if err != nil || !info.Mode().IsRegular() || time.Since(info.ModTime()) < abandoned {
			continue
		}
		path := filepath.Join(folder, entry.Name())
		file, err := os.OpenFile(path, os.O_RDWR, 0)
		if err != nil {
			continue // another user's
		}
		free := Lock(file) == nil
		file.Close()
		if free {
			os.Remove(path)
		}
	}
}
