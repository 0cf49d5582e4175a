package web_test

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/cmd/lull/internal/markup"
	"lull/cmd/lull/internal/sample/driven"
	"lull/cmd/lull/internal/serve/web"
	"lull/cmd/lull/internal/words"
)

var newsKinds = []words.NewsKind{words.NewsEpisode, words.NewsStandstill, words.NewsAttention, words.NewsNote, words.NewsWarning, words.NewsRemark, words.NewsFailure}

// sections of a recording's page, by their names: the lines in sight and those that
// are folded away.
func listsOf(t *testing.T, text string) map[string][2][]string {
	t.Helper()
	got := map[string][2][]string{}
	section := regexp.MustCompile(`(?s)<section class="list" id="(\w+)".*?</section>`)
	line := regexp.MustCompile(`(?s)<li data-kind="(\w+)" data-tone="(\w*)"><span class="at">([^<]*)</span> <b>([^<]*)</b> <span>([^<]*)</span></li>`)
	for _, s := range section.FindAllStringSubmatch(text, -1) {
		latest, earlier, _ := strings.Cut(s[0], "<details")
		var lines [2][]string
		for i, part := range []string{latest, earlier} {
			for _, l := range line.FindAllStringSubmatch(part, -1) {
				lines[i] = append(lines[i], strings.Join(l[1:], "|"))
			}
		}
		got[s[1]] = lines
	}
	return got
}

// The newest stand first; few are in sight, the rest is folded away, none is lost.
func TestARecordingsPageShowsTheLatestFirst(t *testing.T) {
	p := web.Live{File: "drive.log"}
	for n := range int64(9) {
		p.News = append(p.News,
			web.LiveNews{ID: 3*n + 1, At: fmt.Sprint("10:00:0", n), News: words.News{Kind: words.NewsEpisode, Tone: words.Good, Head: fmt.Sprint("episode ", n), Text: "told"}},
			web.LiveNews{ID: 3*n + 2, At: "x", News: words.News{Kind: words.NewsAttention, Tone: words.Bad, Text: fmt.Sprint("finding ", n)}},
			web.LiveNews{ID: 3*n + 3, At: "y", News: words.News{Kind: words.NewsRemark, Text: fmt.Sprint("remark ", n)}})
	}
	count := func(from, to int, format string) (list []string) {
		for n := from; n >= to; n-- {
			list = append(list, fmt.Sprintf(format, n))
		}
		return list
	}
	want := map[string][2][]string{
		"found":     {count(8, 3, "episode|good|10:00:0%d|episode %[1]d|told"), count(2, 0, "episode|good|10:00:0%d|episode %[1]d|told")},
		"attention": {count(8, 6, "attention|bad|x||finding %d"), count(5, 0, "attention|bad|x||finding %d")},
		"said":      {count(8, 3, "remark||y||remark %d"), count(2, 0, "remark||y||remark %d")},
	}
	if diff := cmp.Diff(want, listsOf(t, driven.Written(t, p.Write))); diff != "" {
		t.Error(diff)
	}
}

// The script puts news into the list into which the page puts it.
func TestScriptAndPageSortNewsAlike(t *testing.T) {
	found := regexp.MustCompile(`const lists = \{([^}]*)\}`).FindSubmatch(web.LiveScript())
	if found == nil {
		t.Fatal("the script has no lists")
	}
	script := map[string]string{}
	for pair := range strings.SplitSeq(string(found[1]), ",") {
		kind, list, _ := strings.Cut(pair, ":")
		script[strings.TrimSpace(kind)] = strings.Trim(list, ` "`)
	}
	for _, kind := range newsKinds {
		want := script[string(kind)]
		if want == "" {
			want = "found"
		}
		p := web.Live{News: []web.LiveNews{{News: words.News{Kind: kind, Text: "x"}}}}
		for name, lines := range listsOf(t, driven.Written(t, p.Write)) {
			if (len(lines[0]) == 1) != (name == want) {
				t.Errorf("%s: %d lines in %s, by the script in %s", kind, len(lines[0]), name, want)
			}
		}
	}
}

// The script finds in a state what it puts on the page, under the names that it uses.
func TestTheScriptReadsWhatIsSent(t *testing.T) {
	state := web.LiveStateOf(&words.LiveState{
		Buses: []words.LiveBus{{}}, Lacks: []string{""}, Signals: []words.LiveSignal{{}},
		Marks: &words.LiveMarks{On: []words.OpenMark{{}}},
	})
	news := web.LiveNews{}
	for letter, sent := range map[string]any{"s": state, "b": state.Buses[0], "signal": state.Signals[0], "m": state.Marks, "one": state.Marks.On[0], "n": news} {
		text, err := json.Marshal(sent)
		if err != nil {
			t.Fatal(err)
		}
		var keys map[string]any
		if err := json.Unmarshal(text, &keys); err != nil {
			t.Fatal(err)
		}
		used := regexp.MustCompile(`[^\w.]`+letter+`\.(\w+)`).FindAllSubmatch(web.LiveScript(), -1)
		if len(used) == 0 {
			t.Errorf("%s is not used", letter)
		}
		for _, u := range used {
			if _, ok := keys[string(u[1])]; !ok {
				t.Errorf("%s.%s is not sent", letter, u[1])
			}
		}
	}
}

// News is text, wherever it comes from: the script has no other way into the page.
func TestTheScriptPutsNothingButTextIntoThePage(t *testing.T) {
	if found := regexp.MustCompile(`innerHTML|outerHTML|insertAdjacent|document\.write|DOMParser|eval|Function\(|setAttribute|\.href|\.src`).Find(web.LiveScript()); found != nil {
		t.Errorf("it uses %s", found)
	}
}

func TestARecordingsPageIsWellFormedAtAllTimes(t *testing.T) {
	state := words.LiveState{Buses: []words.LiveBus{{Name: "can0", Rate: "205 frames/s", Load: "load 31 %"}}, Car: "engine running", Lacks: []string{"can1 is waited for"},
		Signals: []words.LiveSignal{{Value: "700 rpm", Age: "0.1 s"}, {Value: words.NotSeen}}, File: "3 MB recorded", Episodes: 2, Standstills: 1}
	signals := []string{"speed", "door & hood"}
	for name, c := range map[string]struct {
		page web.Live
		want []string
		not  []string
	}{
		"begun":    {web.Live{File: "drive.log"}, []string{"No frame yet.", `http-equiv="refresh"`, "Nothing so far.", "None has ended so far.", "End it now"}, []string{"Measure", "<h2>Signals"}},
		"going on": {web.Live{File: "drive.log", Signals: signals, State: state}, []string{"Engine running; 2 episodes and 1 standstill so far.", "can1 is waited for", "load 31 %", "door &amp; hood", "not seen yet", "3 MB recorded"}, []string{"Measure"}},
		"marked": {web.Live{File: "drive.log", Marked: true, State: words.LiveState{Marks: &words.LiveMarks{File: "a<b.marks", Count: 2, On: []words.OpenMark{words.NewOpenMark("brake", 3)}, Taken: []string{"x & y"}}}},
			[]string{`value="brake" aria-pressed="true"`, `value="steering" aria-pressed="false"`, "Taken: 2, in a&lt;b.marks.", "<li>x &amp; y</li>", "The dashboard shows"}, nil},
		"marked with a map":   {web.Live{File: "drive.log", Marked: true, Signals: signals, State: state}, []string{`aria-pressed="false">steering`}, nil},
		"marked and ended":    {web.Live{File: "drive.log", Marked: true, Ended: true, State: words.LiveState{Marks: &words.LiveMarks{Count: 1, Taken: []string{"one"}}}}, []string{"<li>one</li>"}, []string{"aria-pressed", "live/mark\" hidden"}},
		"ended without marks": {web.Live{File: "drive.log", Marked: true, Ended: true}, []string{`live/mark" hidden`}, nil},
		"marks may come":      {web.Live{File: "drive.log", Marked: true}, nil, []string{`live/mark" hidden`}},
		"ended": {web.Live{File: "drive.log", Signals: signals, State: state, Ended: true, Measurable: true, MapName: "map.yaml"},
			[]string{"The recording has ended: 2 episodes, 1 standstill.", "Measure this recording"}, []string{`http-equiv="refresh"`, "End it now", `type="file"`}},
		"ended without a map": {web.Live{File: "drive.log", Ended: true, Measurable: true}, []string{"The recording has ended.", `type="file"`}, nil},
		"ended with nothing":  {web.Live{File: "drive.log", Ended: true}, []string{"Nothing was recorded that could be measured."}, []string{"Measure this"}},
	} {
		text := driven.Written(t, c.page.Write)
		for _, want := range c.want {
			if !strings.Contains(text, want) {
				t.Errorf("%s: %q is missing", name, want)
			}
		}
		for _, not := range c.not {
			if strings.Contains(text, not) {
				t.Errorf("%s: there is %q", name, not)
			}
		}
		if _, err := markup.Elements(text); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}
