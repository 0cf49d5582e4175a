package measuring

import (
	"context"
	"errors"
	"maps"
	"slices"

	"lull/analyze/draft"
	"lull/cmd/lull/internal/words"
	"lull/decode/dbc"
	"lull/decode/marks"
	"lull/pkg/source"
)

// Choices are what a person says to a draft on the page, and gives it.
type Choices struct {
	Signals map[string]draft.Choice // by name
	Shown   []marks.Mark            // values of the dashboard
	Beside  *Beside                 // files; nil: none
}

// options are what a draft from the frames may use.
func (c Choices) options() (o draft.Options) {
	o.Marks, o.Choices = c.Shown, c.Signals
	if c.Beside != nil {
		o.Marks = slices.Concat(c.Beside.Marks, c.Shown)
		if c.Beside.Database != nil {
			o.Database = dbc.Parse(c.Beside.Database)
		}
	}
	return o
}

// redraft reports whether what differs from other choices is used before anything is
// proposed, so that all is to be drafted anew.
func (c Choices) redraft(before Choices) bool {
	dating := func(x draft.Choice) bool { return x.Dates }
	same := func(x, y draft.Choice) bool { return x.Out == y.Out && x.Signal.SamePlace(&y.Signal) }
	return c.Beside != before.Beside || !slices.Equal(c.Shown, before.Shown) ||
		!maps.EqualFunc(only(c.Signals, dating), only(before.Signals, dating), same)
}

// only are the choices of which something is true.
func only(choices map[string]draft.Choice, is func(draft.Choice) bool) map[string]draft.Choice {
	some := maps.Clone(choices)
	maps.DeleteFunc(some, func(_ string, c draft.Choice) bool { return !is(c) })
	return some
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

// Used returns the choices with a rival, counted from 1, in place of a signal as it is
// shown; with 0, that the signal is right. The one that was proposed first is taken back.
func (c Choices) Used(s *draft.Signal, rival int) Choices {
	before, said := c.Signals[s.Name]
	switch {
	case rival == 0 && said:
		return c
	case rival == 0:
		return c.With(s.Name, s.Right())
	case said && before.First == rival:
		return c.Without(s.Name)
	case said && before.First > 0:
		first := before.Signal.Instead(before.First).Signal // with its rivals in their places
		s = &first
	}
	return c.With(s.Name, s.Instead(rival))
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
	Curves   [][]Curve    // of the signals of Draft, in each of the first logs
	Remarks  []string
	read     []source.Input
}

// DraftRoom is what a draft on the page may take.
var DraftRoom = Room{Heap: 1 << 30}

// DraftDrop drafts a map from logs that were dropped on the page, by the choices given, and
// measures them by it. Unless before is nil it is a draft of the same logs, whose proposals
// are used again. It calls told with its progress, from 0 to 1.
func DraftDrop(ctx context.Context, version string, most Room, logs []source.Input, before *Drafted, c Choices, told func(part float64)) (*Drafted, error) {
	anew := before == nil || c.redraft(before.Choices)
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
		o := c.options()
		if o.Database != nil {
			j.logs.mistakesOf(c.Beside.DatabaseName, o.Database)
		}
		base, read, _, err := j.logs.drafted(j.ctx, o)
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
	for i := range min(len(d.read), mostCurved) {
		of, err := j.logs.curves(j.ctx, d.Draft, d.read[i])
		if err != nil {
			return nil, err
		}
		d.Curves = append(d.Curves, of)
	}
	return d, nil
}
