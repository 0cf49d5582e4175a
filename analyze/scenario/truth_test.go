package scenario_test

import (
	"fmt"
	"runtime"
	"slices"
	"sync"
	"testing"

	"lull/analyze"
	"lull/analyze/onelog"
	"lull/analyze/scenario"
	"lull/decode"
	"lull/decode/sigmap"
	"lull/pkg/bounds"
	"lull/pkg/oracle"
)

// found is what the analysis made of one drive, beside its truth.
type found struct {
	drive  scenario.Drive
	m      *decode.Map
	truth  scenario.Truth
	result *analyze.Result
}

func analyse(t *testing.T, d scenario.Drive) found {
	t.Helper()
	m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
	if err != nil {
		t.Errorf("%s: %v", d.Map, err)
		return found{drive: d}
	}
	run := onelog.NewRun(m)
	truth := d.Play(func(f *decode.Frame) { run.Push(f) })
	return found{d, m, truth, run.Finish(decode.Info{Stamps: decode.StampsAbsolute, StampDigits: 6})}
}

// analyseAll runs all drives of the demonstration and as many random ones, on
// all processors, and gives them in order.
func analyseAll(t *testing.T, random int) []found {
	t.Helper()
	drives := scenario.Drives()
	for seed := range random {
		drives = append(drives, scenario.Random(int64(seed)))
	}
	all := make([]found, len(drives))
	next := make(chan int)
	var wait sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for i := range next {
				all[i] = analyse(t, drives[i])
			}
		})
	}
	for i := range drives {
		next <- i
	}
	close(next)
	wait.Wait()
	if t.Failed() {
		t.FailNow()
	}
	return all
}

// drivesMade is how many random drives the tests run beside the demonstration;
// fewer under the race detector, which slows them tenfold.
func drivesMade() int {
	if oracle.RaceDetector {
		return 30
	}
	return 240
}

var once struct {
	sync.Once
	all []found
}

// everything is all drives analysed, once for all tests.
func everything(t *testing.T) []found {
	t.Helper()
	once.Do(func() { once.all = analyseAll(t, drivesMade()) })
	if once.all == nil {
		t.Fatal("the drives could not be analysed")
	}
	return once.all
}

// tally counts how often truth lay within what the analysis gave.
type tally struct {
	inside, all map[string]int
	misses      []string
}

func newTally() *tally { return &tally{inside: map[string]int{}, all: map[string]int{}} }

func (c *tally) add(what, where string, truth float64, v bounds.Value) {
	c.all[what]++
	if truth >= v.Low && truth <= v.High {
		c.inside[what]++
		return
	}
	c.misses = append(c.misses, fmt.Sprintf("%s: %s: true %.6f, given %.6f to %.6f", where, what, truth, v.Low, v.High))
}

func (c *tally) instant(what, where string, truth int64, i bounds.Instant) {
	c.add(what, where, bounds.Seconds(truth), bounds.Value{Low: bounds.Seconds(i.Low), Best: bounds.Seconds(i.T), High: bounds.Seconds(i.High)})
}

func (c *tally) report(t *testing.T) (inside, all int) {
	names := make([]string, 0, len(c.all))
	for name := range c.all {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		t.Logf("%-18s truth within the bounds in %d of %d", name, c.inside[name], c.all[name])
		inside += c.inside[name]
		all += c.all[name]
	}
	t.Logf("%-18s %d of %d = %.2f %%", "together", inside, all, 100*float64(inside)/float64(all))
	for i, miss := range c.misses {
		if i == 20 {
			break
		}
		t.Log(miss)
	}
	return inside, all
}

// trueDurations returns the durations that follow from the true moments.
func trueDurations(e *scenario.TrueEpisode) map[string]float64 {
	d := map[string]float64{}
	between := func(key string, from, to *int64) {
		if from != nil && to != nil {
			d[key] = bounds.Seconds(*to - *from)
		}
	}
	var first, last, request *int64
	if n := len(e.Cranks); n > 0 {
		first, last = &e.Cranks[0], &e.Cranks[n-1]
	}
	if e.Request != nil {
		request = &e.Request.At
	}
	between("run_down", &e.Stop, e.Rest)
	between("stop_duration", e.Rest, first)
	between("engine_off", &e.Stop, e.Running)
	between("restart_latency", request, e.Running)
	between("request_to_crank", request, first)
	between("crank_to_run", last, e.Running)
	between("take_off_delay", request, e.TakeOff)
	return d
}

// describe writes down what must agree exactly.
func describe(outcome string, request string, rest bool, cranks int, running bool) string {
	return fmt.Sprintf("%s, asked by %q, rest %v, cranks %d, running %v", outcome, request, rest, cranks, running)
}

// compareEpisodes reports spurious, missing and differing episodes and adds
// instants and durations to the tallies.
func compareEpisodes(t *testing.T, f found, instants, durations *tally, widths *[]float64) {
	t.Helper()
	want, got := []string{}, []string{}
	for _, e := range f.truth.Episodes {
		request := ""
		if e.Request != nil {
			request = e.Request.Name
		}
		want = append(want, describe(e.Outcome, request, e.Rest != nil, len(e.Cranks), e.Running != nil))
	}
	for _, e := range f.result.Episodes {
		request := ""
		if e.Request != nil {
			request = f.m.Requests[e.Request.Condition].Name
		}
		got = append(got, describe(string(e.Outcome), request, e.Rest != nil, len(e.Cranks), e.Running != nil))
	}
	if !slices.Equal(want, got) {
		t.Errorf("%s: episodes\n true %q\nfound %q", f.drive.Name, want, got)
		return
	}
	zero := f.result.Start
	for i := range f.truth.Episodes {
		e, g := &f.truth.Episodes[i], &f.result.Episodes[i]
		where := fmt.Sprintf("%s episode %d", f.drive.Name, i+1)
		instants.instant("stop", where, e.Stop-zero, g.Stop.Instant)
		if e.Rest != nil {
			instants.instant("rest", where, *e.Rest-zero, *g.Rest)
		}
		if e.Request != nil && g.Request != nil {
			instants.instant("request", where, e.Request.At-zero, g.Request.Instant)
		}
		if e.Decision != nil && g.Decision != nil {
			instants.instant("decision", where, *e.Decision-zero, g.Decision.Instant)
		}
		for k, crank := range e.Cranks {
			instants.instant("crank", where, crank-zero, g.Cranks[k].Instant)
		}
		if e.Running != nil {
			instants.instant("running", where, *e.Running-zero, *g.Running)
		}
		true1 := trueDurations(e)
		for _, v := range g.Metrics {
			truth, ok := true1[v.Key]
			switch {
			case ok && v.Absent != nil && e.Outcome == "aborted":
				// nothing was restarted
			case ok && v.Absent != nil:
				t.Errorf("%s: %s is %.3f s, but: %+v", where, v.Key, truth, v.Absent)
			case ok:
				durations.add(v.Key, where, truth, v.Value)
			}
			if v.Key == "restart_latency" && v.Absent == nil && f.m.Signals[requestSignal(f, g)].Name == "brake" {
				*widths = append(*widths, v.High-v.Low)
			}
		}
	}
}

// requestSignal is the signal of an episode's request.
func requestSignal(f found, e *analyze.Episode) int {
	return f.m.Requests[e.Request.Condition].Expr.Signal
}

func compareRest(t *testing.T, f found, instants, durations *tally) {
	t.Helper()
	zero := f.result.Start
	want, got := []string{}, []string{}
	for _, s := range f.truth.Standstills {
		want = append(want, fmt.Sprintf("opportunity %v stopped %v reason %q unexplained %v", s.Opportunity, s.Stopped, s.Reason, s.Unexplained))
	}
	for _, s := range f.result.Standstills {
		got = append(got, fmt.Sprintf("opportunity %v stopped %v reason %q unexplained %v", s.Opportunity, s.Stopped, s.Reason, s.Unexplained))
	}
	if !slices.Equal(want, got) {
		t.Errorf("%s: standstills\n true %q\nfound %q", f.drive.Name, want, got)
	} else {
		for i, s := range f.truth.Standstills {
			where := fmt.Sprintf("%s standstill %d", f.drive.Name, i+1)
			g := f.result.Standstills[i]
			if i > 0 {
				instants.instant("standstill start", where, s.Start-zero, g.Start)
			}
			if i < len(want)-1 {
				instants.instant("standstill end", where, s.End-zero, g.End)
			}
			if g.StopDelay != nil && g.Episode > 0 && g.Episode <= len(f.truth.Episodes) {
				durations.add("stop_delay", where, bounds.Seconds(f.truth.Episodes[g.Episode-1].Stop-s.Start), g.StopDelay.Value)
			}
		}
	}
	want, got = []string{}, []string{}
	for _, s := range f.truth.Starts {
		want = append(want, s.Kind)
	}
	for _, s := range f.result.Starts {
		got = append(got, string(s.Kind))
	}
	if !slices.Equal(want, got) {
		t.Errorf("%s: starter operations\n true %q\nfound %q", f.drive.Name, want, got)
	}
	want, got = []string{}, []string{}
	for _, s := range f.truth.Silences {
		if s.Start-zero < 33*s.Period {
			continue // its period was not yet known
		}
		want = append(want, fmt.Sprintf("%s %d to %d", s.Module, s.Start-zero, s.End-zero))
	}
	for _, s := range f.result.Silences {
		got = append(got, fmt.Sprintf("%s %d to %d", s.Module, s.Start, s.Start+s.Duration))
	}
	slices.Sort(want)
	slices.Sort(got)
	if !slices.Equal(want, got) {
		t.Errorf("%s: silences\n true %q\nfound %q", f.drive.Name, want, got)
	}
	var gaps [][2]int64
	for _, g := range f.result.Gaps {
		gaps = append(gaps, [2]int64{g.Start + zero, g.End + zero})
	}
	if !slices.Equal(gaps, f.truth.Gaps) {
		t.Errorf("%s: gaps\n true %v\nfound %v", f.drive.Name, f.truth.Gaps, gaps)
	}
}

func TestTruthLiesWithinTheBoundsOverAllDrives(t *testing.T) {
	all := everything(t)
	instants, durations := newTally(), newTally()
	var widths []float64
	episodes := 0
	for _, f := range all {
		episodes += len(f.truth.Episodes)
		compareEpisodes(t, f, instants, durations, &widths)
		compareRest(t, f, instants, durations)
	}
	t.Logf("%d drives, %d episodes", len(all), episodes)
	for name, c := range map[string]*tally{"instants": instants, "durations": durations} {
		inside, all := c.report(t)
		if all < 20*drivesMade() || inside < all {
			t.Errorf("%s: truth within the bounds in only %d of %d", name, inside, all)
		}
	}
	slices.Sort(widths)
	median := widths[len(widths)/2]
	// Brake and engine speed come every 20 and 10 ms on the Tallowmere 1.2.
	t.Logf("median width of restart_latency asked by the brake: %.4f s over %d, periods together 0.030 s", median, len(widths))
	if median > 1.5*0.030 {
		t.Errorf("median width of restart_latency is %.4f s", median)
	}
}
