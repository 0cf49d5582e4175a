package serve

import (
	"errors"
	"fmt"
	"math/rand"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"lull/analyze"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/sample/driven"
)

func someStore(t *testing.T) *store {
	t.Helper()
	t.Setenv("TMPDIR", t.TempDir())
	t.Setenv("TMP", os.Getenv("TMPDIR"))
	s, err := newStore()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// one keeps a measurement with a file of so many bytes.
func (s *store) one(t *testing.T, id string, size int64, side ...*page.Side) *measurement {
	t.Helper()
	f, done, err := s.begin()
	if err != nil {
		t.Fatal(err)
	}
	defer done()
	m := &measurement{id: id, at: time.Now(), files: f, logs: []dropped{{name: id, path: filepath.Join(f.path, "0.log")}}}
	if err := os.WriteFile(m.logs[0].path, make([]byte, size), 0o600); err != nil {
		t.Fatal(err)
	}
	f.size = size
	if len(side) > 0 {
		m.side = side[0]
	}
	s.keep(m)
	return m
}

func there(m *measurement) bool {
	_, err := os.Stat(m.logs[0].path)
	return err == nil
}

// So many measurements are kept; the one not asked for the longest goes first, with
// its files, unless they are used.
func TestOldMeasurementsAreForgottenAndFilesInUseAreNot(t *testing.T) {
	s := someStore(t)
	all := make([]*measurement, mostKept+3)
	for i := range mostKept {
		all[i] = s.one(t, fmt.Sprint(i), 10)
	}
	s.get("0")             // asked for again
	files := s.use(all[1]) // about to be measured again
	if files != all[1].files {
		t.Fatal("no share in its files")
	}
	for i := mostKept; i < len(all); i++ {
		all[i] = s.one(t, fmt.Sprint(i), 10)
	}
	for i, m := range all {
		forgotten := i >= 1 && i <= 3
		if got := s.get(m.id) == nil; got != forgotten {
			t.Errorf("%d: forgotten %v, want %v", i, got, forgotten)
		}
		if want := !forgotten || i == 1; there(m) != want {
			t.Errorf("%d: its file is there: %v, want %v", i, there(m), want)
		}
	}
	if s.use(all[2]) != nil {
		t.Error("a share in files that are gone")
	}
	s.release(files)
	if there(all[1]) {
		t.Error("files that nobody uses any longer are there")
	}
	if list := s.list(); len(list) != mostKept || list[0].id != fmt.Sprint(len(all)-1) {
		t.Errorf("%d in the list, first %s", len(list), list[0].id)
	}
}

// What is large in memory leaves room for fewer, but two stay: they may be the sides
// of a comparison.
func TestLargeMeasurementsLeaveRoomForFewer(t *testing.T) {
	s := someStore(t)
	large := func(id string, points int) {
		s.one(t, id, 1, &page.Side{Traces: []page.LogTraces{{
			Drive:    analyze.Traces{Signals: []analyze.Trace{{Points: make([]analyze.TracePoint, points/2)}}},
			Episodes: map[int][]analyze.Traces{0: {{Signals: []analyze.Trace{{Points: make([]analyze.TracePoint, points/2)}}}}},
		}}})
	}
	ids := func() (list string) {
		for _, m := range s.list() {
			list = m.id + list
		}
		return list
	}
	const third = mostMemory / 24 / 3
	for i, want := range []string{"a", "ab", "bc", "cd"} {
		id := string("abcd"[i])
		large(id, third*3/2)
		if got := ids(); got != want {
			t.Errorf("after %s: %s are kept, want %s", id, got, want)
		}
	}
	large("e", 9*third) // more than all may have
	if got := ids(); got != "de" {
		t.Errorf("%s are kept", got)
	}
	large("f", 10)
	large("g", 10)
	if got := ids(); got != "fg" {
		t.Errorf("%s are kept", got)
	}
}

// Room is made by the oldest, by no more than are needed, and by none where all of
// them are too few; shared files count once, files in use not.
func TestRoomIsMadeByNoMoreThanAreNeeded(t *testing.T) {
	s := someStore(t)
	a, b, c := s.one(t, "a", 100), s.one(t, "b", 100), s.one(t, "c", 100)
	again := &measurement{id: "again", at: time.Now(), logs: a.logs, files: s.use(a)}
	s.keep(again)
	if s.makeRoom(301) || len(s.list()) != 4 {
		t.Error("forgotten for nothing")
	}
	inUse := s.use(c)
	if s.makeRoom(201) || len(s.list()) != 4 {
		t.Error("files in use make no room")
	}
	// The files of a go with the last that has them.
	if !s.makeRoom(50) || s.get("a") != nil || s.get("b") != nil || s.get("c") == nil || s.get("again") == nil || there(b) || !there(a) {
		t.Error("a and b were to be forgotten, with the files of b alone")
	}
	if !s.makeRoom(100) || there(a) || !there(c) {
		t.Error("the files of a were to go")
	}
	s.release(inUse)
	if s.makeRoom(1) {
		t.Error("room out of nothing")
	}
}

// However showing, keeping, measuring again and forgetting fall together, files are
// there exactly as long as somebody uses them. For the race detector, too.
func TestFilesAreThereAsLongAsTheyAreUsed(t *testing.T) {
	s := someStore(t)
	var wait sync.WaitGroup
	for worker := range 8 {
		wait.Go(func() {
			random := rand.New(rand.NewSource(int64(worker)))
			for i := range 60 {
				m := s.one(t, fmt.Sprint(worker, "-", i), 10)
				if random.Intn(2) == 0 {
					if f := s.use(m); f != nil {
						if !there(m) {
							t.Error("files in use are gone")
						}
						if random.Intn(2) == 0 {
							s.keep(&measurement{id: m.id + "+", at: time.Now(), logs: m.logs, files: f})
						} else {
							s.release(f)
						}
					}
				}
				if random.Intn(4) == 0 {
					s.makeRoom(int64(random.Intn(30)))
				}
				for _, k := range s.list() {
					s.get(k.id)
				}
			}
		})
	}
	wait.Wait()
	used := map[string]bool{}
	for _, m := range s.list() {
		used[m.files.path] = true
		if !there(m) {
			t.Errorf("the files of %s are gone", m.id)
		}
	}
	folders, err := filepath.Glob(filepath.Join(s.root, "drop-*"))
	if err != nil || len(folders) != len(used) {
		t.Errorf("%d folders for %d that are used, %v", len(folders), len(used), err)
	}
	if len(s.kept) != len(s.order) || len(s.kept) > mostKept {
		t.Errorf("%d kept, %d in order", len(s.kept), len(s.order))
	}
}

// The folder goes only when the last drop writes no more, or it would leave files
// behind.
func TestTheEndWaitsForDropsThatWrite(t *testing.T) {
	s := someStore(t)
	f, done, err := s.begin()
	if err != nil {
		t.Fatal(err)
	}
	closed := make(chan error, 1)
	go func() { closed <- s.close() }()
	until(t, "it takes no more", func() bool { s.mu.Lock(); defer s.mu.Unlock(); return s.closed })
	time.Sleep(20 * time.Millisecond) // enough to remove a folder
	if err := os.WriteFile(filepath.Join(f.path, "0.log"), nil, 0o600); err != nil {
		t.Errorf("the folder is gone under a drop: %v", err)
	}
	s.release(f)
	done()
	if err := <-closed; err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(s.root); !os.IsNotExist(err) {
		t.Errorf("the folder is there: %v", err)
	}
}

// A measurement is named by its logs, by the first three at most.
func TestAMeasurementIsNamedByItsLogs(t *testing.T) {
	m := &measurement{}
	for i, want := range []string{"", "a\\n0", "a\\n0, a\\n1", "a\\n0, a\\n1, a\\n2", "a\\n0, a\\n1, a\\n2, …", "a\\n0, a\\n1, a\\n2, …"} {
		if got := m.title(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
		m.logs = append(m.logs, dropped{name: fmt.Sprint("a\n", i)})
	}
}

// What a server that was killed left behind is removed by the next one, however soon
// that is, and one that was killed before it had a lock, or by an older lull as it
// removed its folder, after a minute. What one that lives has, and what is no such
// folder stays.
func TestTheFoldersOfKilledServersAreRemoved(t *testing.T) {
	living := someStore(t)
	parent := filepath.Dir(living.root)
	long := time.Now().Add(-time.Hour)
	folder := func(name string, lock bool, at time.Time) string {
		path := filepath.Join(parent, name)
		if err := os.MkdirAll(filepath.Join(path, "drop-1"), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(path, "drop-1", "0.log"), []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
		if lock {
			if err := os.WriteFile(filepath.Join(path, lockName), nil, 0o600); err != nil {
				t.Fatal(err)
			}
			if err := os.Chtimes(filepath.Join(path, lockName), at, at); err != nil {
				t.Fatal(err)
			}
		}
		if err := os.Chtimes(path, at, at); err != nil {
			t.Fatal(err)
		}
		return path
	}
	stale := []string{folder("lull-serve-1", true, long), folder("lull-serve-2", true, time.Now()), folder("lull-serve-3", false, long), folder("lull-serve-8", false, time.Now().Add(-61*time.Second))}
	stay := []string{living.root, folder("lull-serve-9", false, time.Now().Add(-30*time.Second)), folder("other-4", true, long)}
	for _, path := range []string{filepath.Join(living.root, lockName), living.root} {
		if err := os.Chtimes(path, long, long); err != nil {
			t.Fatal(err)
		}
	}
	// A link that leads elsewhere, into a folder that looks like one.
	elsewhere := folder("elsewhere", true, long)
	if err := os.Symlink(elsewhere, filepath.Join(parent, "lull-serve-5")); err == nil {
		stay = append(stay, filepath.Join(parent, "lull-serve-5"), elsewhere)
	}
	if err := os.WriteFile(filepath.Join(parent, "lull-serve-6"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	stay = append(stay, filepath.Join(parent, "lull-serve-6"))
	if others := folder("lull-serve-7", true, long); os.Chown(others, os.Getuid()+1, -1) == nil { // root alone may
		stay = append(stay, others)
	}
	next, err := newStore()
	if err != nil {
		t.Fatal(err)
	}
	defer next.close()
	for _, path := range stale {
		if _, err := os.Stat(path); !os.IsNotExist(err) {
			t.Errorf("%s is there: %v", path, err)
		}
	}
	for _, path := range stay {
		if _, err := os.Stat(path); err != nil {
			t.Error(err)
		}
		if _, err := os.Stat(filepath.Join(path, "drop-1", "0.log")); strings.Contains(path, "elsewhere") && err != nil {
			t.Error(err)
		}
	}
}

// As long as anything of a folder is there its lock is, or the next start could not tell
// whose it is when the removal is killed: both a server's own and what it cleans up.
func TestTheLockOfAFolderGoesLast(t *testing.T) {
	for _, name := range []string{"own", "left by a killed one"} {
		t.Run(name, func(t *testing.T) {
			t.Setenv("TMPDIR", t.TempDir())
			t.Setenv("TMP", os.Getenv("TMPDIR"))
			s, err := newStore()
			if err != nil {
				t.Fatal(err)
			}
			for i := range 300 {
				if err := os.MkdirAll(filepath.Join(s.root, fmt.Sprintf("drop-%d", i), "1", "2", "3"), 0o700); err != nil {
					t.Fatal(err)
				}
			}
			removed := make(chan error, 1)
			if name == "own" {
				go func() { removed <- s.close() }()
			} else {
				if err := s.lock.Close(); err != nil { // as the system does where a process ends
					t.Fatal(err)
				}
				long := time.Now().Add(-time.Hour)
				if err := os.Chtimes(filepath.Join(s.root, lockName), long, long); err != nil {
					t.Fatal(err)
				}
				go func() { removeStale(os.TempDir()); removed <- nil }()
			}
			for {
				_, unlocked := os.Stat(filepath.Join(s.root, lockName))
				left, err := os.ReadDir(s.root)
				if unlocked != nil && len(left) > 0 {
					t.Fatalf("%d left, and the lock is gone", len(left))
				}
				if os.IsNotExist(err) {
					break
				}
			}
			if err := <-removed; err != nil {
				t.Error(err)
			}
		})
	}
}

// Servers that start at once do not take each other's new folders for ones that were
// left behind.
func TestServersThatStartAtOnceLeaveEachOtherAlone(t *testing.T) {
	parent := t.TempDir()
	var wait sync.WaitGroup
	for range 8 {
		wait.Go(func() {
			for range 100 {
				root, lock, err := newRoot(parent)
				if err != nil {
					t.Error(err)
					return
				}
				removeStale(parent)
				if _, err := os.Stat(lock.Name()); err != nil {
					t.Error(err)
				}
				if err := removeRoot(root, lock); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wait.Wait()
	if left, err := os.ReadDir(parent); len(left) > 0 || err != nil {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// Where no folder can be made New says so, and the port is free again.
func TestAServerWithoutAFolderDoesNotStart(t *testing.T) {
	t.Setenv("TMPDIR", filepath.Join(t.TempDir(), "none"))
	t.Setenv("TMP", os.Getenv("TMPDIR"))
	free, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	port := free.Addr().(*net.TCPAddr).Port
	free.Close()
	if _, err := New(Work{}, Options{Port: port}); !os.IsNotExist(err) {
		t.Fatal(err)
	}
	if free, err = net.Listen("tcp4", free.Addr().String()); err != nil {
		t.Fatal(err)
	}
	defer free.Close()
	if _, err := New(Work{}, Options{Port: port}); !errors.Is(err, syscall.EADDRINUSE) {
		t.Fatal(err)
	}
}

// A disk that is full while a drop comes is told, and nothing is left of the drop.
func TestAFullDiskIsTold(t *testing.T) {
	mount, err := exec.LookPath("mount")
	if err != nil || os.Getuid() != 0 {
		t.Skip("SKIPPED: only root can make a disk that is small")
	}
	x := serving(t, Options{}, nil)
	// The store's folder becomes a disk of its own.
	if out, err := exec.Command(mount, "-t", "tmpfs", "-o", "size=4m", "tmpfs", x.store.root).CombinedOutput(); err != nil {
		t.Skipf("SKIPPED: no disk can be made: %v: %s", err, out)
	}
	defer func() {
		if out, err := exec.Command("umount", x.store.root).CombinedOutput(); err != nil {
			t.Errorf("%v: %s", err, out)
		}
	}()
	a := x.drop(part{"log", "drive.log", strings.Repeat("x", 8<<20)}, part{"map", "m.yaml", driven.CarMap})
	if a.StatusCode != 507 || !strings.Contains(a.text, "no space left on device; make room on the disk of the temporary files") {
		t.Errorf("status %d: %s", a.StatusCode, a.text)
	}
	if left := x.drops(); len(left) > 0 {
		t.Errorf("left over: %v", left)
	}
	if a := x.drop(part{"log", "drive.log", stops(20)}, part{"map", "m.yaml", driven.CarMap}); a.StatusCode != 303 {
		t.Errorf("the next one: status %d: %s", a.StatusCode, a.text)
	}
	for _, m := range x.store.list() {
		x.store.makeRoom(m.files.size)
	}
}
