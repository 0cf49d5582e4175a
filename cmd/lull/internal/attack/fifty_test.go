//go:build attack && linux

package attack

import (
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"

	"lull/cmd/lull/internal/sample/driven"
)

// Fifty drops at once are all measured, each as its own log, in a few folders and little
// memory, and nothing of them is left when the server ends.
func TestFiftyDropsAtOnceAreAllAnsweredRight(t *testing.T) {
	folder := t.TempDir()
	s := serve(t, folder)
	var dropping sync.WaitGroup
	for n := range 50 {
		dropping.Go(func() {
			at, said := s.drop(mapPart("map.yaml", driven.CarMap), logPart(fmt.Sprintf("drive-%d.log", n), drive(n)))
			if at == "" {
				t.Errorf("drop %d: %s", n, said)
				return
			}
			if got := s.episodes(at); got != n {
				t.Errorf("drop %d: %d episodes", n, got)
			}
			if _, _, text := s.get(at); !strings.Contains(text, fmt.Sprintf("drive-%d.log", n)) {
				t.Errorf("drop %d is not shown under its name", n)
			}
		})
	}
	dropping.Wait()
	for _, name := range files(t, folder) {
		if info, err := os.Stat(folder + "/" + name); err == nil && info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s may be read by others: %v", name, info.Mode())
		}
	}
	s.end()
	s.tookLess(192)
	if left := files(t, folder); len(left) > 0 {
		t.Errorf("left behind: %q", left)
	}
}
