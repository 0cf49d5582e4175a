package measuring

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lull/cmd/lull/internal/sample/driven"
	"lull/pkg/source"
)

// A log in which more is found than a page has room for is given up, while it is read
// where the memory is too little, and told so.
func TestALogInWhichTooMuchIsFoundIsGivenUp(t *testing.T) {
	m, d := driven.Drive(t, "kept-running.log")
	path := filepath.Join(t.TempDir(), "0.log")
	var log bytes.Buffer
	if err := d.WriteLog(&log); err != nil {
		t.Fatal(err)
	}
	log.WriteString(strings.Repeat("# more than is read ahead of the analysis\n", 1<<18))
	if err := os.WriteFile(path, log.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	enough := Room{Episodes: len(d.Truth().Episodes), Heap: 1 << 40}
	for _, row := range []struct {
		name string
		most Room
		want error
		read bool // all of it, at least once
	}{
		{"enough", enough, nil, true},
		{"an episode too many", Room{Episodes: enough.Episodes - 1, Heap: enough.Heap}, errNoRoom, true},
		{"no memory", Room{Episodes: enough.Episodes, Heap: 1}, errNoRoom, false},
	} {
		t.Run(row.name, func(t *testing.T) {
			var part float64
			side, _, err := Drop(context.Background(), "", row.most, m, []source.Input{{Path: path, Name: "a"}}, func(p float64) { part = p })
			if (side != nil) != (row.want == nil) || fmt.Sprint(err) != fmt.Sprint(row.want) {
				t.Errorf("%v, want %v", err, row.want)
			}
			if (part >= 0.5) != row.read {
				t.Errorf("read up to %v", part)
			}
		})
	}
}
