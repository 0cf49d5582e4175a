package browsertest

import (
	"encoding/csv"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// sample is a value of a signal in a log.
type sample struct{ t, value float64 }

// samplesOf are those of a signal, by lull samples.
func samplesOf(t *testing.T, log, signal string) []sample {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(run(t, demo(t, ""), "samples", log, "--signal", signal, "--format", "csv", "--quiet"))).ReadAll()
	if err != nil || len(rows) < 100 {
		t.Fatalf("%d samples of %s: %v", len(rows), signal, err)
	}
	var list []sample
	for _, r := range rows[1:] {
		at, err1 := strconv.ParseFloat(r[1], 64)
		v, err2 := strconv.ParseFloat(r[5], 64)
		if err1 != nil || err2 != nil {
			t.Fatalf("%q", r)
		}
		list = append(list, sample{at, v})
	}
	return list
}

// reading is what the page reads off a picture: the moment, and the words by name.
func (u *user) reading() (at float64, words map[string]string) {
	u.t.Helper()
	text := u.text("tr.story .reading")
	found := regexp.MustCompile(`^At ([\d.]+) s: (.*)\.$`).FindStringSubmatch(text)
	if found == nil {
		u.t.Fatalf("the page reads %q", text)
	}
	at, err := strconv.ParseFloat(found[1], 64)
	if err != nil {
		u.t.Fatal(err)
	}
	words = map[string]string{}
	for _, part := range strings.Split(found[2], "; ") {
		for _, name := range []string{"engine speed", "battery voltage", "module voltage", "hold pressure", "stop command", "starter", "ask: brake released"} {
			if rest, ok := strings.CutPrefix(part, name+" "); ok {
				words[name] = rest
			}
		}
	}
	return at, words
}

// tells reports whether words such as "12.4 V, 5 ms old" are those of a value, which is
// told to four digits, and of an age in ms.
func tells(words string, value float64, unit string, age float64) bool {
	told, rest, _ := strings.Cut(words, ", ")
	old, err := strconv.ParseFloat(strings.TrimSuffix(rest, " ms old"), 64)
	if err != nil || math.Abs(old-age) > 1.1 {
		return false
	}
	if unit == "" {
		return told == map[bool]string{true: "on", false: "off"}[value != 0]
	}
	number, err := strconv.ParseFloat(strings.TrimSuffix(told, " "+unit), 64)
	if err != nil || !strings.HasSuffix(told, " "+unit) {
		return false
	}
	half := 0.5 // of the fourth digit
	if value != 0 {
		half *= math.Pow(10, math.Floor(math.Log10(math.Abs(value)))-3)
	}
	return math.Abs(number-value) <= half*1.001
}

func TestTheCursorReadsTheLogsOwnSamples(t *testing.T) {
	u := sitDown(t, serve(t))
	u.pick("town")
	u.click(`tbody[data-open="a0.1"] a`)
	u.until(anOpenCard)
	u.must(u.tab.Do(chromedp.ScrollIntoView(chromedp.CSS("tr.story figure"))))

	type signal struct {
		name, key, unit string
		scale           float64
		samples         []sample
	}
	var signals []signal
	for _, s := range []signal{
		{name: "engine speed", key: "engine_speed", unit: "rpm", scale: 1},
		{name: "battery voltage", key: "battery_voltage", unit: "V", scale: 1e-3},
		{name: "module voltage", key: "supply", unit: "V", scale: 1},
		{name: "hold pressure", key: "hold_pressure", unit: "kPa", scale: 1},
		{name: "stop command", key: "stop_lamp", scale: 1},
		{name: "starter", key: "starter_relay", scale: 1},
	} {
		s.samples = samplesOf(t, "town.log", s.key)
		signals = append(signals, s)
	}
	check := func(how string) float64 {
		t.Helper()
		at, words := u.reading()
		for _, s := range signals {
			// The page shows the moment to 1 ms: what it reads was seen half of that
			// before or after.
			ok := false
			var seen []sample
			for i, v := range s.samples {
				if v.t > at+0.0005 || i+1 < len(s.samples) && s.samples[i+1].t <= at-0.0005 {
					continue
				}
				seen = append(seen, v)
				ok = ok || tells(words[s.name], v.value*s.scale, s.unit, (at-v.t)*1000)
			}
			if !ok {
				t.Errorf("%s, at %v s: %s %q, and the log has %v", how, at, s.name, words[s.name], seen)
			}
		}
		return at
	}

	// By the mouse, all over the picture, the wide one and the one of a narrow window.
	for _, sheet := range []struct {
		name          string
		width         int64
		points, least int
		left          float64 // of the traces, of 1
	}{{".narrow", 360, 8, 5, 0.15}, {".wide", 1400, 24, 15, 0.22}} {
		u.must(u.tab.Look(sheet.width, 900, false))
		u.must(u.tab.Do(chromedp.ScrollIntoView(chromedp.CSS("tr.story " + sheet.name + " svg"))))
		box := value[[]float64](u, "(b => [b.left, b.top, b.width, b.height])(document.querySelector('tr.story "+sheet.name+" svg').getBoundingClientRect())")
		seen := map[float64]bool{}
		for i := range sheet.points {
			x := box[0] + box[2]*(sheet.left+(0.98-sheet.left)*float64(i)/float64(sheet.points))
			u.must(u.tab.Do(chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x, max(box[1], 0)+20)))
			if len(seen) == 0 {
				u.until("document.querySelector('tr.story .reading').innerText.startsWith('At ')")
			}
			at := check("by the mouse, " + sheet.name)
			line := value[float64](u, "(b => b.left + b.width / 2)(document.querySelector('tr.story "+sheet.name+" line.cursor').getBoundingClientRect())")
			if !seen[at] && math.Abs(line-x) > 1.5 { // else it is where time is left out
				t.Errorf("%s: the mouse is at %v and the cursor at %v", sheet.name, x, line)
			}
			seen[at] = true
		}
		if len(seen) < sheet.least {
			t.Errorf("%s: the mouse read only %d moments", sheet.name, len(seen))
		}
	}

	// By keys: steps of 10 ms and 100 ms, the ends, the moments of the story.
	u.must(u.tab.Do(chromedp.Focus(chromedp.CSS("tr.story figure"))))
	u.press(kb.Home)
	start := check("at the start")
	u.press(kb.ArrowRight)
	if at := check("a step"); math.Abs(at-start-0.010) > 0.0011 {
		t.Errorf("the arrow key went from %v to %v", start, at)
	}
	u.must(u.tab.Do(chromedp.KeyEvent(kb.ArrowRight, chromedp.KeyModifiers(chromedp.ModifierShift))))
	if at := check("a wide step"); math.Abs(at-start-0.110) > 0.0011 {
		t.Errorf("the arrow key with shift went from %v to %v", start, at)
	}
	var moments []string
	for range 6 {
		u.press(kb.PageDown)
		moments = append(moments, fmt.Sprintf("%.3f", check("a moment")))
	}
	for i, line := range u.texts("tr.story .card > ul li b") {
		told, _, _ := strings.Cut(line, " ")
		want, err := strconv.ParseFloat(told, 64)
		if err != nil {
			t.Fatal(err)
		}
		if got := moments[i]; got != fmt.Sprintf("%.3f", want) {
			t.Errorf("Page down leads to %s, and the story tells of %s", got, told)
		}
	}
	u.press(kb.End)
	check("at the end")
}

// Where an episode cannot be loaded the page says so, closes its row and stays; the
// next one that can be is shown.
func TestAnEpisodeThatCannotBeLoadedIsTold(t *testing.T) {
	u := sitDown(t, serve(t))
	u.visit(u.url)
	u.pick("town")
	value[int](u, "(window.whole = fetch, window.fetch = () => Promise.reject(new Error('no connection')), 1)")
	u.click(`tbody[data-open="a0.2"] a`)
	u.until("document.querySelector('.count').textContent.includes('could not be loaded') && !document.querySelector('tr.open')")
	value[int](u, "(window.fetch = window.whole, 1)")
	u.click(`tbody[data-open="a0.2"] a`)
	u.until(anOpenCard + " && document.querySelector('.count').textContent === ''")
}
