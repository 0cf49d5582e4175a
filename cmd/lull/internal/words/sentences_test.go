package words_test

import (
	"bytes"
	"flag"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"lull/analyze"
	"lull/analyze/compare"
	"lull/analyze/measure"
	"lull/analyze/onelog"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/candump"
	"lull/pkg/bounds"
)

var update = flag.Bool("update", false, "write the golden file anew; read it aloud before it is kept")

// said is a sentence that lull can say, and what it is said of.
type said struct{ of, text string }

// Every sentence that lull can say of a drive stands in one file, to be read aloud: one
// that is changed is seen there, and one that has no words is missed.
func TestEverySentenceIsAsItWasReadAloud(t *testing.T) {
	var b bytes.Buffer
	for _, kind := range []struct {
		heading string
		list    []said
	}{
		{"Answers", answerSentences(t)},
		{"Doubts about a result", doubtSentences(t)},
		{"--check of a drive that cannot be used", checkSentences()},
		{"Findings, and their names in the answer", findingSentences(t)},
		{"Why a figure is absent", reasonSentences(t)},
		{"Notes on an episode", noteSentences(t)},
		{"Stories of episodes", episodeSentences(t)},
		{"Stories of standstills", standstillSentences(t)},
		{"While a drive is recorded", liveSentences()},
		{"What was tried", triedSentences()},
		{"Notes on a comparison", comparisonNoteSentences(t)},
		{"Comparisons", comparisonSentences(t)},
		{"Remarks on a log", remarkSentences(t)},
		{"Drafts of a map", draftSentences(t)},
		{"Sheets for a customer", sheetSentences(t)},
	} {
		fmt.Fprintf(&b, "%s\n%s\n", kind.heading, strings.Repeat("-", len(kind.heading)))
		for _, s := range kind.list {
			fmt.Fprintf(&b, "%s | %s\n", s.of, s.text)
			if s.text == "" || strings.Contains(s.text, "%!") {
				t.Errorf("%s: of %q is said %q", kind.heading, s.of, s.text)
			}
		}
		b.WriteByte('\n')
	}
	sample.Golden(t, *update, "sentences.txt", b.Bytes())
}

// checkSentences are what --check ends with.
func checkSentences() []said {
	doubt := analyze.Doubt{Code: analyze.DoubtNeverOn, Grave: true, Cause: analyze.SilentCommand{Signal: "stop_lamp", Role: decode.StopCommand, Times: 5}}
	r := words.Report{Map: sample.Map(), Logs: []words.Log{{Name: "a.log", Result: &analyze.Result{Trust: analyze.Trust{Credence: analyze.Unusable, Doubts: []analyze.Doubt{doubt}}}}}}
	return []said{{doubt.Code, r.TrustText()}, {"not shown", words.NotShown(r.Logs[0].Result)}}
}

// episodeSentences are the stories of episodes of every outcome.
func episodeSentences(t *testing.T) []said {
	t.Helper()
	m := sample.Map()
	running, rest := sample.Around(17690, 17700, 17710), sample.Around(11590, 11600, 11610)
	crank := func(at int64) analyze.Event {
		return analyze.Event{Instant: sample.Around(at-10, at, at+10), From: decode.StarterCommand}
	}
	var list []said
	var outcomes []string
	tell := func(name string, e analyze.Episode) {
		e.N, e.Stop.Instant = 2, sample.Around(10990, 11000, 11010)
		list = append(list, said{name, words.OutcomeWord(&e).Text})
		for _, v := range words.Story(m, &e) {
			list = append(list, said{"  " + v.Term, v.Text})
		}
		outcomes = append(outcomes, string(e.Outcome))
	}
	commanded := analyze.Event{From: decode.StopCommand}
	request := &analyze.Request{Instant: sample.Around(16990, 17000, 17010)}
	also := []analyze.Request{{Instant: sample.Around(17000, 17010, 17020), Condition: 1}}
	decision := &analyze.Event{Instant: sample.Around(17040, 17050, 17060), From: decode.StopCommand}
	tell("restarted", analyze.Episode{Outcome: analyze.Restarted, Stop: commanded, Rest: &rest, Request: request, Also: also, Decision: decision,
		Cranks: []analyze.Event{crank(17100)}, Running: &running})
	tell("restarted at the second attempt", analyze.Episode{Outcome: analyze.Restarted, Stop: analyze.Event{From: decode.EngineSpeed}, Rest: &rest,
		Cranks: []analyze.Event{crank(15100), crank(17100)}, Running: &running})
	tell("restarted at the third attempt", analyze.Episode{Outcome: analyze.Restarted, Stop: commanded, Cranks: []analyze.Event{crank(13100), crank(15100), crank(17100)}, Running: &running})
	tell("change of mind", analyze.Episode{Outcome: analyze.ChangeOfMind, Stop: commanded, Request: &analyze.Request{Instant: sample.Around(11290, 11300, 11310)}, Running: &running})
	tell("no start", analyze.Episode{Outcome: analyze.NoStart, Stop: commanded, Rest: &rest, Cranks: []analyze.Event{crank(17100)}})
	tell("stalled", analyze.Episode{Outcome: analyze.Stalled, Stop: analyze.Event{From: decode.EngineSpeed}, Rest: &rest, Cranks: []analyze.Event{crank(17100)}, Running: &running})
	for _, o := range []analyze.Outcome{analyze.Aborted, analyze.IgnitionOff, analyze.InGap, analyze.LogEnd} {
		tell(string(o), analyze.Episode{Outcome: o, Stop: commanded})
	}
	none(t, missing(constantsOf(t, "../../../../analyze", "Outcome"), outcomes))
	return list
}

// liveSentences are lines that are shown of a recording.
func liveSentences() []said {
	r := sample.Report()
	res := r.Logs[0].Result
	var list []said
	for i := range res.Episodes {
		n := r.EpisodeNews(&res.Episodes[i])
		list = append(list, said{"episode", n.Line()})
	}
	for i := range res.Standstills {
		n := r.StandstillNews(res, &res.Standstills[i])
		list = append(list, said{"standstill", n.Line()})
	}
	for _, s := range []words.LiveState{
		{}, {Buses: []words.LiveBus{{Name: "can0"}}}, {Silent: "no frame for 5.3 s"},
		{Silent: "no frame for 5.3 s", Car: words.CarText(analyze.Status{Engine: analyze.True}), Episodes: 1, Standstills: 2},
		{Buses: []words.LiveBus{{Name: "can0"}}, Car: words.CarText(analyze.Status{Now: 9e9, Standing: &bounds.Instant{T: 1e9}, Stop: &bounds.Instant{T: 2e9}, Rests: true}), Episodes: 3, Standstills: 1},
		{Buses: []words.LiveBus{{Name: "can0"}}, Car: words.CarText(analyze.Status{Now: 9e9, Stop: &bounds.Instant{T: 8e9}, Stands: analyze.False})},
		{Buses: []words.LiveBus{{Name: "can0"}}, Car: words.CarText(analyze.Status{Engine: analyze.Unknown})},
	} {
		list = append(list, said{"headline", s.Headline()})
	}
	doubt := analyze.Doubt{Cause: analyze.EngineOff{Signal: "rpm"}}
	return append(list, said{"doubt", words.DoubtNews(&doubt).Text})
}

// triedSentences are what was tried in drives, and what was not.
func triedSentences() []said {
	var list []said
	r := sample.Report()
	for _, text := range r.Tried() {
		list = append(list, said{"tried", text})
	}
	return list
}

// comparisonSentences are what is said of two sides.
func comparisonSentences(t *testing.T) []said {
	t.Helper()
	var list []said
	var verdicts []string
	told := sample.Comparisons()
	delete(told, "compare_odd") // its figures are no numbers
	m := sample.Map()
	told["most alike, some better"] = sample.Compared("", sample.Side(m, "a.log", 0, tied(20, 9)...), sample.Side(m, "b.log", 1, tied(20, 0)...))
	told["too few for one metric"] = sample.Compared("", sample.Side(m, "a.log", 0, 0.5, 0.52, 0.54, 0.56), sample.Side(m, "b.log", 1, 0.6, 0.62, 0.64, 0.66, 0.68))
	for _, name := range slices.Sorted(maps.Keys(told)) {
		c := told[name]
		for _, text := range slices.Concat(c.Answer(), c.Remarks()) {
			list = append(list, said{name, text})
		}
	}
	c := words.CompareReport{Comparison: &compare.Comparison{}}
	var g compare.Group
	for _, key := range decode.MetricKeys {
		for _, v := range []compare.Verdict{compare.Better, compare.Worse, compare.Changed, compare.NoChangeShown, compare.TooFew, compare.Missing} {
			of, _ := measure.MetricByKey(key)
			metric := compare.Metric{Metric: of, Verdict: v, Down: v == compare.Better}
			metric.Before.N, metric.Before.Median, metric.After.N, metric.After.Median = 10, 1, 9, 2
			metric.Shift.Value, metric.Shift.Low, metric.Shift.High = 0.5, 0.4, 0.62
			if v == compare.Better {
				metric.Shift.Value, metric.Shift.Low, metric.Shift.High = -0.5, -0.62, -0.4
			}
			verdicts = append(verdicts, string(v))
			g.Metrics = append(g.Metrics, metric)
		}
	}
	for _, text := range c.GroupAnswer(&g) {
		list = append(list, said{"every metric", text})
	}
	none(t, missing(constantsOf(t, "../../../../analyze/compare", "Verdict"), verdicts))
	return list
}

// remarkSentences are what readers and the analysis say of a log. Those of captures need
// one: decode/capture has them.
func remarkSentences(t *testing.T) []said {
	t.Helper()
	var list []said
	codes := []string{decode.RemarkFramesDropped, decode.RemarkMessageIncomplete, decode.RemarkPackedDamaged, decode.RemarkOtherPackets}
	m := sample.Entries()
	for _, log := range []string{
		"(1700000000.000000) can0 1A0#0000\nno frame\n(1700000001.000000) can0 1A0#00\n(1700000000.500000) can0 1A0#00\n(1700000000.600000) can0 1A0#0",
		"can0  1A0   [1]  00\n",
		"(0.1) can0 1A0#00\n(0.2) can0 1A0#00\n(0.3) can0 1A0#00\n(60.3) can0 1A0#00\n",
		"(0.1) can0 1A0#00\n(0.2) can0 1A0#00\n(0.1) can0 1A0#00\n(0.1) can0 1A0#00\n(0.2) can0 1A0#00\n(0.1) can0 1A0#00\n",
	} {
		reader, run := candump.NewReader(strings.NewReader(log), candump.Options{}), onelog.NewRun(m)
		for reader.Scan() {
			run.Push(reader.Frame())
		}
		for _, r := range run.Finish(reader.Info()).Info.Remarks {
			list, codes = append(list, said{r.Code, r.Text}), append(codes, r.Code)
		}
	}
	none(t, missing(constantsNamed(t, "../../../../decode", "Remark"), codes))
	return list
}

// sheetSentences are what a sheet says to a person who knows no bus.
func sheetSentences(t *testing.T) []said {
	t.Helper()
	var list []said
	tell := func(of string, status words.Word, verdict []string, measures []words.Measure, more ...string) {
		list = append(list, said{of + ", status", status.Text})
		for _, text := range verdict {
			list = append(list, said{of + ", verdict", text})
		}
		for _, m := range measures {
			for _, b := range m.Bars {
				list = append(list, said{of + ", bar", strings.TrimSpace(m.Name + " | " + b.Side + " " + b.Text + " | " + m.LimitText)})
			}
		}
		for _, text := range more {
			if text != "" {
				list = append(list, said{of, text})
			}
		}
	}
	for _, r := range []struct {
		name string
		*words.Report
	}{{"every kind of row", sample.Report()}, {"nothing", &words.Report{Map: sample.Map(), Logs: []words.Log{{Name: "a.log", Result: &analyze.Result{EngineSpeedSeen: true}}}}}} {
		f, _ := r.Fault()
		tell(r.name, r.Status(), r.Verdict(), r.Measures(), r.Sure(), r.Driven(), f.Caption)
	}
	told := sample.Comparisons()
	delete(told, "compare_odd") // its figures are no numbers
	for _, name := range slices.Sorted(maps.Keys(told)) {
		c := told[name]
		tell(name, c.Status(), c.Verdict(), nil, c.Sure())
	}
	for _, key := range decode.MetricKeys {
		for _, high := range []bool{false, true} {
			m := *sample.Map()
			m.Limits = []decode.Limit{{Metric: key, HasMin: !high, HasMax: high}}
			e := analyze.Episode{N: 1, Metrics: []analyze.MetricValue{{Key: key}}, Limits: []analyze.LimitVerdict{{Limit: m.Limits[0], Verdict: analyze.Outside}}}
			r := words.Report{Map: &m, Logs: []words.Log{{Name: "a.log", Result: &analyze.Result{EngineSpeedSeen: true, Episodes: []analyze.Episode{e}}}}}
			list = append(list, said{map[bool]string{false: "below", true: "above"}[high] + " the limit of " + key, r.Verdict()[0]})
		}
	}
	return list
}
