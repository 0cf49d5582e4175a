package measuring

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/cmd/lull/internal/words"
	"lull/pkg/source"
)

func TestWhatHoldsForSeveralLogsIsSaidOnce(t *testing.T) {
	noLog := func(where, lines string) error {
		return &words.Failure{Where: where, What: "this is not a CAN log that lull can read: none of its " + lines, Hint: "lull reads logs", NoLog: true}
	}
	unseen := "in your map but not in this log: x (ignored)"
	for _, c := range []struct {
		name string
		held []held
		want []string
	}{
		{"nothing", nil, nil},
		{"one log says all of itself", []held{
			{log: "a", Note: Note{Where: "a", Text: "2 lines rejected"}, details: []Note{{Where: "a:3:1", Text: "odd"}, {Where: "a:7:1", Text: "odd"}}},
			{log: "a", Note: Note{Where: "a:4", Text: unseen}},
		}, []string{"a: 2 lines rejected", "a:3:1: odd", "a:7:1: odd", "a:4: " + unseen}},
		{"twice of one log stays twice", []held{{log: "a", Note: Note{Where: "a:3", Text: "odd"}}, {log: "a", Note: Note{Where: "a:7", Text: "odd"}}},
			[]string{"a:3: odd", "a:7: odd"}},
		{"three logs are named", []held{
			{log: "a", Note: Note{Where: "a", Text: unseen}}, {log: "b", Note: Note{Where: "b:1", Text: "else"}},
			{log: "b", Note: Note{Where: "b", Text: unseen}}, {log: "c", Note: Note{Where: "c", Text: unseen}},
		}, []string{"3 logs (a, b, c): in your map but not in the log: x (ignored)", "b:1: else"}},
		{"of more the first", []held{
			{log: "a", Note: Note{Where: "a:1", Text: "odd"}, details: []Note{{Where: "a:1:1", Text: "why"}}}, {log: "b", Note: Note{Where: "b:2", Text: "odd"}},
			{log: "c", Note: Note{Where: "c", Text: "odd"}}, {log: "d", Note: Note{Where: "d", Text: "odd"}},
		}, []string{"4 logs (a:1, b:2, c, ...): odd"}},
		{"failures", []held{
			{log: "a", Note: Note{Err: noLog("a:1:1", "2 lines is a CAN frame")}}, {log: "b", Note: Note{Err: noLog("b:1:1", "3 lines is a CAN frame")}},
			{log: "c", Note: Note{Err: &source.Error{Path: "c", Why: "a zip archive", Hint: "unpack it first"}}},
			{log: "d", Note: Note{Err: &source.Error{Path: "d", Why: "a zip archive", Hint: "unpack it first"}}},
			{log: "e", Note: Note{Err: errors.New("e: something else")}}, {log: "f", Note: Note{Err: noLog("f", "9")}},
		}, []string{"3 files (a:1:1, b:1:1, f): these are not CAN logs that lull can read; lull reads logs",
			"2 logs (c, d): a zip archive; unpack it first", "e: something else"}},
	} {
		var got []string
		l := &Logs{Order: Order{Tell: func(n Note) { got = append(got, n.String()) }}, held: c.held}
		l.tellHeld()
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
		if l.tellHeld(); len(got) != len(c.want) {
			t.Errorf("%s: told twice", c.name)
		}
	}
}
