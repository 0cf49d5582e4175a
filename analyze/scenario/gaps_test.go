package scenario

import (
	"cmp"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"lull/analyze"
	"lull/analyze/onelog"
	"lull/decode"
	"lull/decode/sigmap"
)

var onlySeed = flag.Int("gaps.seed", -1, "the one car that TestNothingIsInsideThatTheBusDidNotShow tries, and shows all of")

// problem is something that the analysis says and that is not so.
type problem struct {
	stop       int // -1: of none
	kind, text string
}

// name is the same for a problem that a whole log and a part of it have.
func (p *problem) name() string { return fmt.Sprint(p.stop, p.kind) }

// held is one limit that a figure of one stop is held against.
type held struct {
	stop   int
	metric string
	broken bool // by the truth
}

// trial is one car on one bus, and what the analysis says of its whole log.
type trial struct {
	c      *course
	b      *bus
	m      *decode.Map
	stops  []trueStop
	truths []map[string]figure
	log    []*seen
	whole  *analyze.Result
	limits map[decode.Limit]held
}

func newTrial(t *testing.T, c *course, seed uint64) *trial {
	b := newBus(seed, c.nominal)
	if b.noisy {
		c.shake(seed)
	}
	m, err := sigmap.Parse("map.yaml", []byte(b.m))
	if err != nil {
		t.Errorf("%v\n%s", err, b.m)
		return nil
	}
	x := &trial{c: c, b: b, m: m, stops: c.stops(b.hasStop, b.hasStarter), log: b.play(c)}
	for i := range x.stops {
		x.truths = append(x.truths, x.stops[i].figures(c, b))
	}
	x.whole = x.analyse(x.log)
	x.setLimits()
	x.whole = x.analyse(x.log)
	return x
}

func (x *trial) analyse(log []*seen) *analyze.Result {
	run := onelog.NewRun(x.m)
	for i := range log {
		run.Push(&log[i].frame)
	}
	return run.Finish(decode.Info{Stamps: decode.StampsAbsolute, StampDigits: 6})
}

// setLimits holds every figure of every stop against limits that it keeps and, where
// samples make it, such that it breaks by little: the whole log shows that it does.
func (x *trial) setLimits() {
	x.limits = map[decode.Limit]held{}
	add := func(stop int, metric string, broken, isMin bool, at float64) {
		l := decode.Limit{Metric: metric, HasMin: isMin, HasMax: !isMin}
		if isMin {
			l.Min = at
		} else {
			l.Max = at
		}
		if _, taken := x.limits[l]; !taken {
			x.limits[l] = held{stop, metric, broken}
			x.m.Limits = append(x.m.Limits, l)
		}
	}
	found, _ := x.match(x.whole)
	for i, e := range found {
		if e == nil {
			continue
		}
		for _, v := range e.Metrics {
			f, ok := x.truths[i][v.Key]
			if !ok || v.Absent != nil {
				continue
			}
			low, high := min(v.Low, f.low), max(v.High, f.high)
			if v.Key == "take_off_shock" {
				low, high = v.Low, v.High
			}
			near, far := 0.004*math.Abs(high)+0.001, 0.1*math.Abs(high)+0.05
			if f.nature == lowest || f.nature == middle || f.nature == timed {
				add(i, v.Key, true, true, high+near)
				add(i, v.Key, false, true, low-far)
			}
			if f.nature == highest || f.nature == middle || f.nature == timed {
				add(i, v.Key, true, false, low-near)
				add(i, v.Key, false, false, high+far)
			}
		}
	}
}

// gather collects problems by kind, over all cars.
type gather struct {
	sync.Mutex
	kinds              map[string][]example
	logs, stops        int
	judged, leftUnseen int // verdicts on logs that lack something
	eventsLost         int // problems of stops whose commands come only when they change, lost in a gap
}

// example is one problem with what it takes to see it again.
type example struct {
	order int
	text  string
}

func (g *gather) add(kind string, order int, text string) {
	g.Lock()
	defer g.Unlock()
	g.kinds[kind] = append(g.kinds[kind], example{order, text})
}

func (g *gather) lostEvents() {
	g.Lock()
	defer g.Unlock()
	g.eventsLost++
}

// lostWithEvents pins what is known to come out wrong: where stop and starter command
// come only when they change, and a gap hides a whole restart, nothing in the log tells
// that it did.
const lostWithEvents = 10

func (g *gather) counts(r *analyze.Result, stops int) {
	g.Lock()
	defer g.Unlock()
	g.logs++
	g.stops += stops
	for i := range r.Episodes {
		for _, l := range r.Episodes[i].Limits {
			if l.Verdict == analyze.Unseen {
				g.leftUnseen++
			} else {
				g.judged++
			}
		}
	}
}

// report fails for every kind of problem, with the first examples of it.
func (g *gather) report(t *testing.T) {
	t.Logf("%d logs, %d stops, %d verdicts, %d unseen", g.logs, g.stops, g.judged, g.leftUnseen)
	if *onlySeed < 0 && (g.judged < 10*g.stops || g.leftUnseen == 0) {
		t.Error("hardly anything was judged, or nothing was left unseen")
	}
	names := make([]string, 0, len(g.kinds))
	for name := range g.kinds {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, kind := range names {
		all := g.kinds[kind]
		slices.SortStableFunc(all, func(a, b example) int { return cmp.Compare(a.order, b.order) })
		var texts []string
		for i, e := range all {
			if i == 3 && *onlySeed < 0 {
				break
			}
			texts = append(texts, e.text)
		}
		t.Errorf("%s: %d times\n  %s", kind, len(all), strings.Join(texts, "\n  "))
	}
}

// TestNothingIsInsideThatTheBusDidNotShow lays random buses over random cars, cuts
// gaps and silences into what they carry, and holds every instant, figure, verdict
// and accusation against what the car truly did. What the analysis gets wrong of the
// whole log has nothing to do with what is cut out, and is told apart, as of the loss "whole".
func TestNothingIsInsideThatTheBusDidNotShow(t *testing.T) {
	cars, losses := 40, 24
	if testing.Short() {
		cars, losses = 6, 8
	}
	g := &gather{kinds: map[string][]example{}}
	next := make(chan int)
	var wait sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for seed := range next {
				tryCar(t, g, seed, losses)
			}
		})
	}
	for seed := range cars {
		if *onlySeed < 0 || seed == *onlySeed {
			next <- seed
		}
	}
	close(next)
	wait.Wait()
	g.report(t)
	if !testing.Short() && *onlySeed < 0 && g.eventsLost != lostWithEvents {
		t.Errorf("%d problems with commands that come only when they change, known are %d: read them, and set the number anew", g.eventsLost, lostWithEvents)
	}
}

// tryCar tries one car with some losses.
func tryCar(t *testing.T, g *gather, seed, losses int) {
	d := Random(int64(seed))
	switch seed % 10 {
	case 3:
		d = Drives()[seed/10%4] // failed starts, called-off stops, rolling stops
	case 7:
		d = Drives()[11] // 24 V
	}
	c := follow(d)
	x := newTrial(t, c, uint64(seed))
	if x == nil {
		return
	}
	known := map[string]bool{}
	for _, p := range x.check(x.whole, x.log, "whole") {
		known[p.name()] = true
		g.add("whole: "+p.kind, seed*1000, fmt.Sprintf("car %d (%s; %s): stop %d: %s", seed, c.name, x.b, p.stop+1, p.text))
	}
	r := rand.New(rand.NewPCG(uint64(seed), 11))
	for i := range losses {
		l := lose(r, kinds[i%len(kinds)], x.b, c, x.stops)
		left := l.apply(x.log)
		result := x.analyse(left)
		g.counts(result, len(x.stops))
		for _, p := range x.check(result, left, l.kind) {
			switch {
			case known[p.name()]:
			case x.b.eventsOnly() && l.kind != "silence":
				g.lostEvents()
			default:
				g.add(l.kind+": "+p.kind, seed*1000+i, fmt.Sprintf("car %d (%s; %s), loss %d: %s\n    stop %d: %s%s",
					seed, c.name, x.b, i, l.text(x.b, x.log[0].frame.Time, p.stop), p.stop+1, p.text, x.beside(result, p.stop)))
			}
		}
	}
}
