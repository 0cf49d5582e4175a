package measuring

import (
	"context"
	"errors"
	"maps"
	"slices"

	"lull/analyze/draft"
	"lull/cmd/lull/internal/words"
	"lull/decode/marks"
	"lull/pkg/source"
)

// Choices are what a person says to a draft on the page.
type Choices struct {
	Signals map[string]draft.Choice // by name
	Shown   []marks.Mark            // values of the dashboard
}

// With returns the choices with one more, leaving these as they are.
func (c Choices) With(name string, choice draft.Choice) Choices {
	c.Signals = maps.Clone(c.Signals)
	if c.Signals == nil {
		c.Signals = map[string]draft.Choice{}
	}
	c.Signals[name] = choice
	return c
}

// Without returns the choices without that of a signal.
func (c Choices) Without(name string) Choices {
	c.Signals = maps.Clone(c.Signals)
	delete(c.Signals, name)
	return c
}

// Drafted is a draft for the page. It does not change.
type Drafted struct {
	Proposed *draft.Draft // before any choice
	Choices  Choices
	Draft    *words.Draft // after them, measured
	Text     []byte       // of the map; nil if there is none
	Curves   []Curve      // of the signals of Draft, in the first log
	Remarks  []string
	read     []source.Input
}

// DraftRoom is what a draft on the page may take.
var DraftRoom = Room{Heap: 1 << 30}

// DraftDrop drafts a map from logs that were dropped on the page, by the choices given, and
// measures them by it. Unless before is nil it is a draft of the same logs, whose proposals
// are used again. It calls told with its progress, from 0 to 1.
func DraftDrop(ctx context.Context, version string, most Room, logs []source.Input, before *Drafted, c Choices, told func(part float64)) (*Drafted, error) {
	anew := before == nil || !slices.Equal(before.Choices.Shown, c.Shown)
	readings := int64(2)
	if anew {
		readings = 3
	}
	j := newJob(ctx, version, most, logs, readings, told)
	defer j.stop(nil)
	d, err := j.draft(before, c, anew)
	if err = j.failure(err); err != nil {
		if errors.Is(err, errNoRoom) {
			err = errors.New("this is too much to be drafted on the page; draft it with lull draft, or drop a shorter log")
		}
		return nil, err
	}
	d.Remarks = j.remarks
	if !anew {
		d.Remarks = before.Remarks
	}
	return d, nil
}

func (j *job) draft(before *Drafted, c Choices, anew bool) (*Drafted, error) {
	d := &Drafted{Choices: c}
	if anew {
		base, read, _, err := j.logs.drafted(j.ctx, draft.Options{Marks: c.Shown})
		j.logs.tellHeld()
		if err != nil {
			return nil, err
		}
		d.Proposed, d.Draft, d.read = base.Result, base, read
	} else {
		copied := *before.Draft
		d.Proposed, d.Draft, d.read = before.Proposed, &copied, before.read
	}
	d.Draft.Result = d.Proposed.Chosen(c.Signals)
	var err error
	if d.Text, err = j.logs.measureDraft(j.ctx, d.Draft, d.read); err == nil {
		err = j.ctx.Err()
	}
	if err != nil {
		return nil, err
	}
	d.Curves, err = j.logs.curves(j.ctx, d.Draft, d.read[0])
	return d, err
}
