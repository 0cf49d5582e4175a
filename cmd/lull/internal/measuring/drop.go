package measuring

import (
	"context"
	"errors"
	"os"
	"runtime/metrics"
	"slices"
	"strings"

	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/source"
)

// Room limits what may be found in the logs of one drop. The result grows with the log, and
// without end in a log made for that or under a wrong map.
type Room struct {
	Episodes int
	Heap     uint64 // bytes in use by the whole process
}

// PageRoom is what the page has room for.
var PageRoom = Room{Episodes: 5000, Heap: 512 << 20}

// errNoRoom is returned if more was found than the page has room for.
var errNoRoom = errors.New("more was found in this than a page can show; check the map, or measure it with lull episodes")

// Misfit is the error of a valid map that does not fit the logs. The logs are kept, as the
// map may be mended.
type Misfit struct{ Text string }

func (m *Misfit) Error() string { return m.Text }

// Drop measures logs that were dropped on the page, within the room given. The remarks it
// returns do not say where the logs lie on this disk. It calls told with its progress, from
// 0 to 1.
func Drop(ctx context.Context, version string, most Room, m *decode.Map, logs []source.Input, told func(part float64)) (*page.Side, []string, error) {
	j := newJob(ctx, version, most, logs, 2, told)
	defer j.stop(nil)
	j.logs.Map, j.logs.MostEpisodes = m, most.Episodes
	side, _, err := j.logs.Side(j.ctx)
	err = j.failure(err)
	return side, j.remarks, err
}

// job is work on the logs of a drop.
type job struct {
	asked, ctx context.Context
	stop       context.CancelCauseFunc
	logs       *Logs
	remarks    []string
	named      *strings.Replacer // paths of the server's own by the names that their owner knows
}

// newJob begins work that reads each log so many times.
func newJob(ctx context.Context, version string, most Room, logs []source.Input, readings int64, told func(part float64)) *job {
	j := &job{asked: ctx}
	j.ctx, j.stop = context.WithCancelCause(ctx)
	// The paths are private to the server: messages name a log as its owner does.
	var names []string
	for _, in := range logs {
		names = append(names, in.Path, in.Name)
	}
	j.named = strings.NewReplacer(names...)
	j.logs = &Logs{Inputs: slices.Clone(logs), Map: &decode.Map{}, Order: Order{
		Stdin: strings.NewReader(""), Version: version,
		Tell: func(n Note) { j.remarks = append(j.remarks, j.named.Replace(words.Visible(n.String()))) },
	}}
	source.SortByStart(j.logs.Inputs, j.logs.starts(j.ctx))
	var total int64
	for _, in := range j.logs.Inputs {
		if info, err := os.Stat(in.Path); err == nil {
			total += readings * info.Size()
		}
	}
	var read, at int64 // bytes: of all logs, and of the current one
	j.logs.Progress = func(p Progress) {
		more := p.Position - at
		if at = p.Position; p.Done {
			at = 0
		}
		if more == 0 {
			return
		}
		read += more
		told(min(float64(read)/float64(max(total, 1)), 1))
		if heap() > most.Heap {
			j.stop(errNoRoom)
		}
	}
	return j
}

// failure is an error of the work as the page tells it.
func (j *job) failure(err error) error {
	switch {
	case err != nil && j.asked.Err() == nil && context.Cause(j.ctx) == errNoRoom:
		j.remarks = nil
		return errNoRoom
	case errors.Is(err, errBlind):
		return &Misfit{Text: j.told()}
	case errors.Is(err, words.ErrTold):
		return errors.New(j.told())
	case err != nil && j.ctx.Err() == nil:
		return errors.New(j.named.Replace(err.Error()))
	}
	return err
}

// told is what was told, which then is no remark.
func (j *job) told() string {
	text := strings.Join(j.remarks, "\n")
	j.remarks = nil
	return text
}

// heap returns the bytes on the heap, garbage included.
func heap() uint64 {
	sample := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
	metrics.Read(sample)
	return sample[0].Value.Uint64()
}
