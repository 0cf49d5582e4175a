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

// draft is a file that is written beside its target and finally takes its place. If the
// system supports files without a name, the draft has none until then, so that nothing
// is left of it, however the process ends. Otherwise it has a hidden name and is locked.
type draft struct {
	*os.File
	target string
	name   string // "" if it has none
}

const (
	draftBegins, draftEnds = ".lull-", ".tmp"
	// abandonedAfter is the age from which an unlocked draft counts as abandoned. It is
	// longer than it takes to lock a new draft or to rename a closed one.
	abandonedAfter = time.Minute
)

// Variables, so that tests can imitate other systems.
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

// create gives the draft a file with a hidden name. Unlike os.CreateTemp, it leaves the
// mode of the new file to the umask.
func (d *draft) create() error {
	err := d.hide(func(name string) (err error) {
		d.File, err = os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		return err
	})
	if err == nil {
		_ = Lock(d.File) // where files cannot be locked, none is taken for abandoned
	}
	return err
}

// hide calls put with hidden names beside the target until it finds one that is free.
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

// place syncs the draft to disk and puts it in the target's place.
func (d *draft) place() error {
	if err := d.Sync(); err != nil {
		return err
	}
	if d.name == "" {
		err := linkUnnamed(d.File, d.target)
		if err == nil {
			return d.Close() // the target did not exist
		}
		// A link cannot replace a file, but a rename can, and that needs a name.
		if errors.Is(err, fs.ErrExist) {
			err = d.hide(func(name string) error { return linkUnnamed(d.File, name) })
		}
		if err != nil { // links are not supported here
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

// copy replaces the draft's file by a copy that has a hidden name.
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

// drop discards the draft, unless it was placed.
func (d *draft) drop() {
	d.Close()
	if d.name != "" {
		os.Remove(d.name)
	}
}

// removeAbandoned removes the drafts that killed processes left in a folder.
func removeAbandoned(folder string) {
	entries, _ := os.ReadDir(folder) // newDraft reports what is wrong with the folder
	for _, entry := range entries {
		if !strings.HasPrefix(entry.Name(), draftBegins) || !strings.HasSuffix(entry.Name(), draftEnds) {
			continue
		}
		info, err := entry.Info()
		if err != nil || !info.Mode().IsRegular() || time.Since(info.ModTime()) < abandonedAfter {
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
