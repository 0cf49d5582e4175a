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
	asked := ctx
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	// The paths are private to the server: messages name a log as its owner does.
	var names []string
	for _, in := range logs {
		names = append(names, in.Path, in.Name)
	}
	named := strings.NewReplacer(names...)
	var remarks []string
	l := &Logs{Inputs: slices.Clone(logs), Map: m, MostEpisodes: most.Episodes, Order: Order{
		Stdin: strings.NewReader(""), Version: version,
		Tell: func(n Note) { remarks = append(remarks, named.Replace(words.Visible(n.String()))) },
	}}
	source.SortByStart(l.Inputs, l.starts(ctx))
	var total int64
	for _, in := range l.Inputs {
		if info, err := os.Stat(in.Path); err == nil {
			total += 2 * info.Size() // each is read twice
		}
	}
	var read, at int64 // bytes: of all logs, and of the current one
	l.Progress = func(p Progress) {
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
			stop(errNoRoom)
		}
	}
	side, _, err := l.Side(ctx)
	switch {
	case err != nil && asked.Err() == nil && context.Cause(ctx) == errNoRoom:
		return nil, nil, errNoRoom
	case errors.Is(err, errBlind):
		return nil, nil, &Misfit{Text: strings.Join(remarks, "\n")}
	case errors.Is(err, words.ErrTold):
		return nil, nil, errors.New(strings.Join(remarks, "\n"))
	case err != nil && ctx.Err() == nil:
		return nil, remarks, errors.New(named.Replace(err.Error()))
	}
	return side, remarks, err
}

// heap returns the bytes on the heap, garbage included.
func heap() uint64 {
	sample := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
	metrics.Read(sample)
	return sample[0].Value.Uint64()
}
