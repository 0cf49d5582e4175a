//go:build attack && linux

package attack

import (
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"lull/cmd/lull/internal/sample/driven"
)

// A server that is killed at any moment, at its start, idle, with a drop under way or
// while it clears away, leaves nothing once the next one has started, and the next one
// leaves alone what one that lives has.
func TestTheNextServerClearsAwayWhatKilledOnesLeft(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(3, 4))
	folder := t.TempDir()
	lives := serve(t, folder)
	at, said := lives.drop(mapPart("map.yaml", driven.CarMap), logPart("lives.log", drive(2)))
	if at == "" {
		t.Fatal(said)
	}
	owned := files(t, folder)
	next := func(after string) {
		t.Helper()
		ageEmpty(t, folder)
		s := serve(t, folder)
		alone := soon(t, 2*time.Second, "only the folders of two that live, after one was killed "+after, func() bool {
			roots, _ := filepath.Glob(filepath.Join(folder, "lull-serve-*", "."))
			return len(roots) == 2
		})
		s.end()
		for _, name := range files(t, folder) {
			if !alone && !slices.Contains(owned, name) { // what comes next is told by itself
				os.RemoveAll(filepath.Join(folder, name))
			}
		}
	}
	for range 12 { // at its start
		p := command(t, folder, "serve").begin()
		time.Sleep(time.Duration(random.Int64N(int64(60 * time.Millisecond))))
		p.kill()
	}
	next("at its start")
	for range 3 { // with what was dropped
		s := serve(t, folder)
		if at, said := s.drop(mapPart("map.yaml", driven.CarMap), logPart("a.log", drive(1))); at == "" {
			t.Error(said)
		}
		s.kill()
	}
	next("idle")
	for range 3 { // with a drop under way
		s := serve(t, folder)
		dropped := make(chan bool)
		go func() {
			s.drop(mapPart("map.yaml", driven.CarMap), part{"log", "a.log", io.LimitReader(endless{}, 64<<20)})
			close(dropped)
		}()
		time.Sleep(time.Duration(random.Int64N(int64(100 * time.Millisecond))))
		s.kill()
		<-dropped
	}
	next("with a drop under way")
	for range 6 { // while it clears away
		s := serve(t, folder)
		for range 20 {
			if at, said := s.drop(mapPart("map.yaml", driven.CarMap), logPart("a.log", drive(0))); at == "" {
				t.Error(said)
			}
		}
		s.interrupt()
		time.Sleep(time.Duration(random.Int64N(int64(8 * time.Millisecond))))
		s.kill()
	}
	next("while it cleared away")
	if left := files(t, folder); !slices.Equal(left, owned) {
		t.Errorf("of the one that lives there is %q, before %q", left, owned)
	}
	if got := lives.episodes(at); got != 2 {
		t.Errorf("it shows %d episodes", got)
	}
	lives.end()
	if left := files(t, folder); len(left) > 0 {
		t.Errorf("left behind: %q", left)
	}
}

// ageEmpty makes folders without a lock older than the minute for which the next server
// leaves them alone, as one that starts may just be making them. Nothing may lie there.
func ageEmpty(t *testing.T, folder string) {
	t.Helper()
	roots, _ := filepath.Glob(filepath.Join(folder, "lull-serve-*"))
	old := time.Now().Add(-2 * time.Minute)
	for _, root := range roots {
		if _, err := os.Stat(filepath.Join(root, "lock")); !os.IsNotExist(err) {
			continue
		}
		if left := files(t, root); len(left) > 0 {
			t.Errorf("a folder without a lock holds %q", left)
		}
		if err := os.Chtimes(root, old, old); err != nil {
			t.Error(err)
		}
	}
}

// Servers that start at the same moment clear away nothing of each other.
func TestServersThatStartAtOnceLeaveEachOtherAlone(t *testing.T) {
	folder := t.TempDir()
	var starting []*process
	for range 8 {
		starting = append(starting, command(t, folder, "serve", "--quiet").begin())
	}
	var all []*server
	for _, p := range starting {
		all = append(all, addressed(p))
	}
	for n, s := range all {
		at, said := s.drop(mapPart("map.yaml", driven.CarMap), logPart("a.log", drive(n)))
		if at == "" || s.episodes(at) != n {
			t.Errorf("server %d: %q %s", n, at, said)
		}
	}
	for _, s := range all {
		s.end()
	}
	if left := files(t, folder); len(left) > 0 {
		t.Errorf("left behind: %q", left)
	}
}
