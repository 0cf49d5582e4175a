package serve

import (
	"errors"
	"os"
	"slices"
	"strings"
	"sync"
	"time"

	"lull/analyze"
	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/words"
	"lull/decode/sigmap"
)

const (
	// mostKept and mostMemory bound the measurements that are kept; the least recently used
	// goes first. The last two stay however large they are, as they may be the sides of a
	// comparison.
	mostKept   = 64
	mostMemory = 48 << 20 // bytes
	fewest     = 2
)

// measurement is the result of one drop. It does not change once it is kept; a draft is
// replaced by the next one. Without a map there is nothing but its logs.
type measurement struct {
	id       string
	at       time.Time
	logs     []dropped
	mapName  string
	mapText  []byte
	mistakes sigmap.Errors      // of the map; then there is no side
	misfit   string             // why the map does not fit the logs; likewise
	draft    *measuring.Drafted // of the map, with what was chosen so far; nil: none. There is no side either
	steps    int                // choices made so far
	beside   *measuring.Beside  // files for a draft; nil: none
	unsound  []string           // why others cannot be used
	side     *page.Side
	remarks  []string
	files    *folder
}

// dropped is a log as it lies in the server's folder.
type dropped struct{ name, path string }

// folder holds the logs of a drop. Several measurements may share it.
type folder struct {
	path string
	uses int
	size int64 // bytes in it; set by the drop that fills it, fixed once kept
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
		names = append(names, words.Visible(l.name))
	}
	return strings.Join(names, ", ")
}

// store keeps measurements and their files.
type store struct {
	mu     sync.Mutex
	root   string
	lock   *os.File
	closed bool
	drops  sync.WaitGroup // in progress, which may write files
	kept   map[string]*measurement
	order  []string // IDs, least recently used first
}

func newStore() (*store, error) {
	root, lock, err := newRoot(os.TempDir())
	if err != nil {
		return nil, err
	}
	return &store{root: root, lock: lock, kept: map[string]*measurement{}}, nil
}

// close takes no more drops, waits for those in progress, which end with their requests,
// and removes all that was dropped.
func (s *store) close() error {
	s.mu.Lock()
	s.closed = true
	s.mu.Unlock()
	s.drops.Wait()
	return removeRoot(s.root, s.lock)
}

// errClosed says that the server is ending.
var errClosed = errors.New("lull serve was ended")

// begin makes a folder for the logs of a drop. done must be called when the drop writes no
// more.
func (s *store) begin() (f *folder, done func(), err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil, nil, errClosed
	}
	path, err := os.MkdirTemp(s.root, "drop-")
	if err != nil {
		return nil, nil, err
	}
	s.drops.Add(1)
	return &folder{path: path, uses: 1}, s.drops.Done, nil
}

// release gives up a share in a folder, which is removed with the last share.
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

// use takes another share in the folder of a measurement that is kept.
func (s *store) use(m *measurement) *folder {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.kept[m.id] != m {
		return nil
	}
	m.files.uses++
	return m.files
}

// share takes a share in the folder of a measurement that is kept, for work on it. done must
// be called when the work writes no more.
func (s *store) share(id string) (f *folder, done func(), err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil, nil, errClosed
	}
	m := s.kept[id]
	if m == nil {
		return nil, nil, gone()
	}
	m.files.uses++
	s.drops.Add(1)
	return m.files, s.drops.Done, nil
}

// keep stores a measurement with its share in its folder, in place of one with its ID.
func (s *store) keep(m *measurement) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.kept[m.id] != nil {
		s.forget(m.id)
	}
	s.kept[m.id] = m
	s.order = append(s.order, m.id)
	var memory int64
	for _, other := range s.kept {
		memory += other.memory()
	}
	for len(s.order) > mostKept || memory > mostMemory && len(s.order) > fewest {
		memory -= s.kept[s.order[0]].memory()
		s.forget(s.order[0])
	}
}

// memory estimates the bytes of a measurement, nearly all of which are the points of its
// pictures.
func (m *measurement) memory() int64 {
	const (
		ofPoint   = 24
		ofEpisode = 8 << 10
	)
	bytes := int64(len(m.mapText)) + m.beside.Memory()
	if m.draft != nil {
		for _, list := range m.draft.Curves {
			for _, c := range list {
				bytes += ofPoint * int64(len(c.Points))
			}
		}
		if r := m.draft.Draft.Measured; r != nil {
			for i := range r.Logs {
				bytes += ofEpisode * int64(len(r.Logs[i].Result.Episodes))
			}
		}
	}
	if m.side == nil {
		return bytes
	}
	count := func(traces *analyze.Traces) {
		for i := range traces.Signals {
			bytes += ofPoint * int64(len(traces.Signals[i].Points))
		}
	}
	for i := range m.side.Traces {
		count(&m.side.Traces[i].Drive)
		for _, windows := range m.side.Traces[i].Episodes {
			bytes += ofEpisode
			for k := range windows {
				count(&windows[k])
			}
		}
		for _, traces := range m.side.Traces[i].Standstills {
			bytes += ofEpisode
			count(&traces)
		}
	}
	return bytes
}

// makeRoom forgets the least recently used measurements until so many bytes of their files
// are gone. If all of them together have less, it forgets none and returns false.
func (s *store) makeRoom(bytes int64) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	// Folders that a drop in progress uses would stay.
	var all int64
	uses := map[*folder]int{}
	for _, m := range s.kept {
		if uses[m.files]++; uses[m.files] == m.files.uses {
			all += m.files.size
		}
	}
	if all < bytes {
		return false
	}
	for bytes > 0 && len(s.order) > 0 {
		bytes -= s.forget(s.order[0])
	}
	return bytes <= 0
}

// forget drops a measurement and returns how many bytes went with it.
func (s *store) forget(id string) (gone int64) {
	m := s.kept[id]
	delete(s.kept, id)
	s.order = slices.DeleteFunc(s.order, func(other string) bool { return other == id })
	if s.drop(m.files); m.files.uses > 0 {
		return 0
	}
	return m.files.size
}

// get returns a measurement and marks it as used, nil if it is not kept.
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

// list returns the measurements kept, the newest first.
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
