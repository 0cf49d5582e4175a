//go:build attack && linux

package attack

import (
	"bytes"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/klauspost/compress/zstd"
)

// A recorder that is killed at any moment leaves a log up to its last second and nothing
// else beside it; a packed one reads up to there. Its last line may be cut: the kernel
// ends a write of one that is killed where a page ends.
func TestAKilledRecorderLeavesAllButItsLastSecond(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(1, 2))
	var working sync.WaitGroup
	var kept atomic.Int64
	for range 24 {
		lives := time.Duration(random.Int64N(int64(3 * time.Second)))
		name := []string{"drive.log", "drive.log.zst"}[random.IntN(2)]
		folder := t.TempDir()
		k := &ticking{}
		p := command(t, folder, "record", car(t, k.feed), "-o", name, "--quiet").begin()
		working.Go(func() {
			time.Sleep(lives)
			killed := time.Now()
			p.kill()
			must := k.number(killed.Add(-time.Second))
			left := files(t, folder)
			if len(left) == 0 && must == 0 {
				return
			}
			if len(left) != 1 || left[0] != name {
				t.Errorf("killed after %v, %s leaves %q", lives, name, left)
				return
			}
			log, _ := os.ReadFile(filepath.Join(folder, name))
			if strings.HasSuffix(name, ".zst") {
				log = unpackedUpTo(log)
			}
			got := bytes.Count(log, []byte("\n"))
			if !bytes.HasPrefix(ticks(got+1), log) {
				t.Errorf("killed after %v, %s: it is not the first frames: ends %q", lives, name, log[max(0, len(log)-100):])
			}
			if got < must {
				t.Errorf("killed after %v, %s: %d frames, and %d were sent a second before", lives, name, got, must)
			}
			kept.Add(int64(len(log)))
		})
	}
	working.Wait()
	if kept.Load() == 0 {
		t.Error("none was killed late enough to have kept anything")
	}
}

// unpackedUpTo is what can be unpacked of a file that may be cut off.
func unpackedUpTo(packed []byte) []byte {
	r, err := zstd.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil
	}
	defer r.Close()
	text, _ := io.ReadAll(r) // its end is the cut
	return text
}
