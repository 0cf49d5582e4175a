package serve

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"lull/cmd/lull/internal/output"
	"lull/cmd/lull/internal/page"
	"lull/decode/sigmap"
)

// mostKept bounds the measurements that are kept; the one not asked for the
// longest goes first.
const mostKept = 64

// measurement is what came of one drop. It does not change once it is kept.
type measurement struct {
	id       string
	at       time.Time
	logs     []dropped
	mapName  string
	mapText  []byte
	mistakes sigmap.Errors // of the map; then there is no side
	side     *page.Side
	remarks  []string
	files    *folder
}

// dropped is a log as it lies in the server's folder.
type dropped struct {
	name, path string
	size       int64
}

// folder is where the logs of a drop lie. Several measurements may use it.
type folder struct {
	path string
	uses int
}

// title names a measurement by its logs.
func (m *measurement) title() string {
	const most = 3
	var names []string
	for i, l := range m.logs {
		if i == most {
			names = append(names, "…")
			break
		}
		names = append(names, output.Visible(l.name))
	}
	return strings.Join(names, ", ")
}

// store keeps measurements and their files.
type store struct {
	mu    sync.Mutex
	root  string
	kept  map[string]*measurement
	order []string // of the last use, the latest at the end
}

func newStore() (*store, error) {
	root, err := os.MkdirTemp("", "lull-serve-") // only its owner may look into it
	if err != nil {
		return nil, err
	}
	return &store{root: root, kept: map[string]*measurement{}}, nil
}

// close removes all that was dropped.
func (s *store) close() error { return os.RemoveAll(s.root) }

// folder makes a place for the logs of a drop.
func (s *store) folder() (*folder, error) {
	path, err := os.MkdirTemp(s.root, "drop-")
	if err != nil {
		return nil, err
	}
	return &folder{path: path, uses: 1}, nil
}

// release gives a folder back, which goes when nobody uses it any longer.
func (s *store) release(f *folder) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.drop(f)
}

func (s *store) drop(f *folder) {
	if f.uses--; f.uses == 0 {
		_ = os.RemoveAll(f.path) // the whole root goes at the end
	}
}

// use takes a further share in the folder of a measurement that is kept.
func (s *store) use(m *measurement) *folder {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.kept[m.id] != m {
		return nil
	}
	m.files.uses++
	return m.files
}

// keep takes a measurement with its share in its folder.
func (s *store) keep(m *measurement) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.kept[m.id] = m
	s.order = append(s.order, m.id)
	for len(s.order) > mostKept {
		s.forget(s.order[0])
	}
}

// makeRoom forgets the measurement not used for the longest; it tells whether there was
// one.
func (s *store) makeRoom() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.order) == 0 {
		return false
	}
	s.forget(s.order[0])
	return true
}

func (s *store) forget(id string) {
	m := s.kept[id]
	delete(s.kept, id)
	s.order = slices.DeleteFunc(s.order, func(other string) bool { return other == id })
	s.drop(m.files)
}

// get finds a measurement and marks it as used; nil where there is none.
func (s *store) get(id string) *measurement {
	s.mu.Lock()
	defer s.mu.Unlock()
	m := s.kept[id]
	if m == nil {
		return nil
	}
	s.order = append(slices.DeleteFunc(s.order, func(other string) bool { return other == id }), id)
	return m
}

// list gives what is kept, the newest first.
func (s *store) list() []*measurement {
	s.mu.Lock()
	defer s.mu.Unlock()
	all := make([]*measurement, 0, len(s.kept))
	for _, m := range s.kept {
		all = append(all, m)
	}
	slices.SortFunc(all, func(a, b *measurement) int { return b.at.Compare(a.at) })
	return all
}

// fileIn names a file of a drop: by its number, never by what the client calls it.
func fileIn(f *folder, name string) string { return filepath.Join(f.path, name) }
