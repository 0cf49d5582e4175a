package words_test

import (
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/bounds"
)

func TestAnEpisodeIsNewsInOneLine(t *testing.T) {
	r := sample.Report()
	var got []string
	for i := range r.Logs[0].Result.Episodes {
		n := r.EpisodeNews(&r.Logs[0].Result.Episodes[i])
		if n.Kind != words.NewsEpisode || n.Head == "" {
			t.Errorf("%+v", n)
		}
		got = append(got, fmt.Sprintf("%s [%s]", n.Line(), n.Tone))
	}
	want := []string{
		"episode 1 at 41.27 s: restarted, request: brake released, restart 0.417 (0.410 to 0.430) s, lowest 9.31 V, limits: within [good]",
		"episode 2 at 101.27 s: change of mind, request: battery low, restart 0.620 (0.610 to 0.630) s, lowest 8.40 V, limits: 2 out [bad]",
		"episode 3 at 341.27 s: ! did not start [bad]",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// An episode in which the engine did not come back is bad, however its limits were kept.
func TestTheWorseOfOutcomeAndLimitsIsAnEpisodesTone(t *testing.T) {
	r := &words.Report{Map: &decode.Map{}}
	for _, c := range []struct {
		outcome analyze.Outcome
		verdict analyze.Verdict
		want    words.Tone
	}{
		{analyze.Restarted, analyze.Inside, words.Good}, {analyze.Restarted, analyze.Borderline, words.Doubtful}, {analyze.Restarted, analyze.Outside, words.Bad},
		{analyze.Stalled, analyze.Inside, words.Bad}, {analyze.NoStart, analyze.Borderline, words.Bad},
	} {
		e := analyze.Episode{Outcome: c.outcome, Limits: []analyze.LimitVerdict{{Verdict: c.verdict}}}
		if got := r.EpisodeNews(&e).Tone; got != c.want {
			t.Errorf("%s, %s: %q", c.outcome, c.verdict, got)
		}
	}
	if n := r.EpisodeNews(&analyze.Episode{N: 3, Outcome: analyze.Aborted}); n.Line() != "episode 3 at 0.00 s: stop cancelled" || n.Tone != "" {
		t.Errorf("of an episode of which nothing is known: %+v", n)
	}
}

func TestAFindingIsNewsOfItsGravity(t *testing.T) {
	for _, c := range []struct {
		severity analyze.Severity
		want     words.News
	}{
		{analyze.Attention, words.News{Kind: words.NewsAttention, Tone: words.Bad, Text: `a \x1b b`}},
		{analyze.Note, words.News{Kind: words.NewsNote, Text: `a \x1b b`}},
	} {
		if diff := cmp.Diff(c.want, words.FindingNews(&analyze.Finding{Severity: c.severity, About: analyze.Remarked{Text: "a \x1b b"}})); diff != "" {
			t.Error(diff)
		}
	}
}

func TestAHeadlineSaysHowARecordingStands(t *testing.T) {
	can0 := []words.LiveBus{{Name: "can0", Rate: "205 frames/s"}}
	for _, c := range []struct {
		state words.LiveState
		want  string
	}{
		{words.LiveState{}, "No frame yet."},
		{words.LiveState{Car: "engine speed not seen yet"}, "No frame yet; 0 episodes and 0 standstills so far."},
		{words.LiveState{Buses: can0, Car: "engine running, moving", Episodes: 1}, "Engine running, moving; 1 episode and 0 standstills so far."},
		{words.LiveState{Buses: can0, Car: "engine running, moving", Episodes: 3, Silent: "no frame for 5 s"}, "No frame for 5 s; before that: engine running, moving; 3 episodes and 0 standstills so far."},
		{words.LiveState{Buses: can0, Silent: "no frame for 5 s"}, "No frame for 5 s."},
		{words.LiveState{Buses: can0}, "Frames are recorded; without a map nothing more can be said of them."},
	} {
		if got := c.state.Headline(); got != c.want {
			t.Errorf("%+v: %q", c.state, got)
		}
	}
}

func TestABusIsOneLine(t *testing.T) {
	for want, b := range map[string]words.LiveBus{
		"can0: 205 frames/s":                           {Name: "can0", Rate: "205 frames/s"},
		"can0: 205 frames/s, load 31 %, 1 error frame": {Name: "can0", Rate: "205 frames/s", Load: "load 31 %", Errors: "1 error frame"},
		"can1: 0 frames/s, 2 error frames":             {Name: "can1", Rate: "0 frames/s", Errors: "2 error frames"},
	} {
		if got := b.Line(); got != want {
			t.Errorf("%q, not %q", got, want)
		}
	}
}

func TestTheCarIsToldInWords(t *testing.T) {
	at := func(seconds int64) *bounds.Instant { return &bounds.Instant{T: seconds * 1e9} }
	for _, c := range []struct {
		status analyze.Status
		want   string
	}{
		{analyze.Status{}, "engine speed not seen yet"},
		{analyze.Status{Engine: analyze.True}, "engine running"},
		{analyze.Status{Engine: analyze.True, Stands: analyze.False}, "engine running, moving"},
		{analyze.Status{Engine: analyze.False, Stands: analyze.Unknown}, "engine not running"},
		{analyze.Status{Now: 12e9, Engine: analyze.True, Stop: at(10), Stands: analyze.True, Standing: at(9)}, "engine told to stop 2.0 s ago, standing for 3.0 s"},
		{analyze.Status{Now: 12e9, Engine: analyze.False, Stop: at(10), Rests: true, Stands: analyze.False}, "engine stopped for 2.0 s, moving"},
	} {
		if got := words.CarText(c.status); got != c.want {
			t.Errorf("%+v: %q", c.status, got)
		}
	}
}

func TestADriveThatCannotBeUsedIsNewsThatNeedsAttention(t *testing.T) {
	doubt := analyze.Doubt{Code: analyze.DoubtNeverOn, Signal: "stop\x1b", Cause: analyze.SilentCommand{Signal: "stop\x1b", Role: decode.StopCommand, Times: 2}}
	want := words.News{Kind: words.NewsAttention, Tone: words.Bad, Text: `do not use these figures: the engine stopped twice and stop\x1b never came on: look at its bit`}
	if got := words.DoubtNews(&doubt); got != want {
		t.Errorf("%+v", got)
	}
}
