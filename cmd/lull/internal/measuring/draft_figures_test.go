package measuring

import (
	"flag"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"lull/analyze"
	"lull/analyze/draft"
	"lull/analyze/onelog"
	"lull/analyze/scenario/foreign"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/dbc"
	"lull/decode/marks"
	"lull/decode/sigmap"
)

var (
	draftCars = flag.Int("draft.cars", 0, "how many cars of each kind are drafted; 0: as the test wants")
	draftSeed = flag.Int64("draft.seed", 0, "the first seed")
	draftKind = flag.String("draft.kind", "", "only cars of this kind")
	draftTell = flag.Bool("draft.tell", false, "tell every claim that is not right, and what was not found")
)

// draftedCar is what came of one unknown car.
type draftedCar struct {
	kind         foreign.Kind
	found, vary  map[string]int
	claims       int // written signals that can be judged
	wrong        int // of these, those whose field is wrong
	wrongScale   int
	guesses      int
	guessesRight int
	lies         []string // what is called sure and is wrong
	told         []string
	episodes     bool // as by the true map
	took         time.Duration
}

func (c *draftedCar) tell(format string, args ...any) {
	c.told = append(c.told, fmt.Sprintf(format, args...))
}

// draftUnknown drafts a map of an unknown car and holds it against the truth.
func draftUnknown(seed int64, kind foreign.Kind) *draftedCar {
	u := foreign.NewUnknown(seed, kind)
	c := &draftedCar{kind: kind, found: map[string]int{}, vary: map[string]int{}}
	drafter := draft.New()
	drafter.NextLog()
	u.Play(func(f *decode.Frame) bool { drafter.Push(f); return true })
	var options draft.Options
	if u.Marks != nil {
		options.Marks, _ = marks.Parse("", u.Marks)
	}
	if u.DBC != nil {
		options.Database = dbc.Parse(u.DBC)
	}
	began := time.Now()
	d := &words.Draft{Logs: []string{u.Name}, Result: drafter.Draft(options)}
	c.took = time.Since(began)

	for _, role := range foreign.Roles() {
		if u.Varies(role) {
			c.vary[role]++
		}
	}
	for i := range d.Result.Signals {
		s := &d.Result.Signals[i]
		role := s.Name
		if r := s.What.Role(); r != decode.NoRole {
			role = r.String()
		}
		if s.What == draft.Marked || s.What == draft.TurnLamp {
			role, _, _ = strings.Cut(s.Name, "_")
		}
		if !slices.Contains(foreign.Roles(), role) {
			continue
		}
		m, x := alone(d, s)
		v := u.Judge(role, m, x)
		right := v.FieldRight && v.ScaleRight
		at := fmt.Sprintf("%s %s %d+%d big=%v x%g%+g (%s/%s; %s)", s.Name, s.Entry.Label(), s.Field.Start, s.Field.Length, s.Field.BigEndian, s.Factor, s.Offset, s.FieldIs, s.ScaleIs, words.DraftEvidence(s))
		if s.FieldIs == draft.Guess {
			c.guesses++
			if v.FieldRight {
				c.guessesRight++
			}
		}
		if s.FieldIs == draft.Sure && !v.FieldRight || s.HasFactor() && s.ScaleIs == draft.Sure && !v.ScaleRight {
			c.lies = append(c.lies, at)
		}
		if right && s.Written {
			c.found[role]++
		}
		if s.Written {
			c.claims++
			if !v.FieldRight {
				c.wrong++
				c.tell("WRONG FIELD %s", at)
			} else if !v.ScaleRight {
				c.wrongScale++
				c.tell("wrong scale %s", at)
			}
		} else if !v.FieldRight {
			c.tell("guess wrong %s", at)
		} else if !right {
			c.tell("guess of right field %s", at)
		} else {
			c.tell("guess right %s", at)
		}
	}
	for _, role := range foreign.Roles() {
		if c.vary[role] > c.found[role] {
			c.tell("not found: %s", role)
		}
	}
	if *draftTell {
		truth := strings.Split(string(u.Map), "\n")
		for i, line := range truth {
			for _, r := range []string{"engine_speed:", "vehicle_speed:", "battery_voltage:", "stop_command:", "starter_command:", "brake:"} {
				if strings.Contains(line, r) {
					id := ""
					for k := i; k >= 0 && id == ""; k-- {
						if strings.Contains(truth[k], "id:") {
							id = strings.TrimSpace(truth[k])
						}
					}
					c.tell("TRUE %s %s", id, strings.TrimSpace(line))
				}
			}
		}
	}
	c.episodes = sameEpisodes(u, d, c)
	return c
}

// alone is a map of one drafted signal, for judging it.
func alone(d *words.Draft, s *draft.Signal) (*decode.Map, *decode.Signal) {
	one := *s
	one.Written = true
	if one.Field.Unit == "" {
		one.Field.Unit = one.What.Unit()
	}
	r := *d.Result
	r.Signals = []draft.Signal{one}
	if one.What != draft.EngineSpeed {
		// A map needs an engine speed; this one is on no bus.
		r.Signals = append(r.Signals, draft.Signal{What: draft.EngineSpeed, Name: "engine_speed_", Entry: decode.Entry{Kind: decode.ByID, ID: 0x1FFFFFF0, Extended: true, Source: -1, Address: -1},
			Field: decode.Signal{Start: 0, Length: 16, Unit: "rpm"}, Factor: 1, Written: true})
	}
	text, err := DraftText(&words.Draft{Logs: d.Logs, Result: &r})
	if err != nil {
		panic(err)
	}
	m, err := sigmap.Parse("map.yaml", text)
	if err != nil {
		panic(fmt.Sprintf("%v\n%s", err, text))
	}
	for i := range m.Signals {
		if m.Signals[i].Name == s.Name {
			return m, &m.Signals[i]
		}
	}
	panic("not there: " + s.Name)
}

// sameEpisodes reports whether the log has the same episodes by the drafted map as by the
// true one: as many, with the same outcomes, the engine running again within 50 ms.
func sameEpisodes(u *foreign.Unknown, d *words.Draft, c *draftedCar) bool {
	text, err := DraftText(d)
	if err != nil {
		panic(err)
	}
	if text == nil {
		return false
	}
	drafted, err := sigmap.Parse("map.yaml", text)
	if err != nil {
		panic(fmt.Sprintf("%v\n%s", err, text))
	}
	true_, err := sigmap.Parse("map.yaml", u.Map)
	if err != nil {
		panic(err)
	}
	got, want := measured(u, drafted), measured(u, true_)
	if len(got.Episodes) != len(want.Episodes) {
		c.tell("episodes: %d, want %d", len(got.Episodes), len(want.Episodes))
		return false
	}
	for i := range want.Episodes {
		g, w := &got.Episodes[i], &want.Episodes[i]
		if g.Outcome != w.Outcome {
			c.tell("episode %d: %s, want %s", i+1, g.Outcome, w.Outcome)
			return false
		}
		if (g.Running == nil) != (w.Running == nil) || g.Running != nil && math.Abs(float64(g.Running.T-w.Running.T)) > 50e6 {
			c.tell("episode %d runs at another time", i+1)
			return false
		}
	}
	return true
}

func measured(u *foreign.Unknown, m *decode.Map) *analyze.Result {
	run := onelog.NewRun(m)
	u.Play(func(f *decode.Frame) bool { run.Push(f); return true })
	return run.Finish(decode.Info{})
}

// draftedCars drafts maps of cars of a kind.
func draftedCars(kind foreign.Kind, first int64, n int) []*draftedCar {
	cars := make([]*draftedCar, n)
	next := make(chan int)
	var wait sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for i := range next {
				cars[i] = draftUnknown(first+int64(i), kind)
			}
		})
	}
	for i := range cars {
		next <- i
	}
	close(next)
	wait.Wait()
	return cars
}

// What a draft finds of cars that nobody has a map of, and what of it is false. Nothing
// that it calls sure is; the engine speed is found in most, and few claims are false.
func TestDraftFigures(t *testing.T) {
	n := 4
	if testing.Short() {
		n = 1
	}
	if *draftCars > 0 {
		n = *draftCars
	}
	roles := []string{"engine_speed", "vehicle_speed", "battery_voltage", "stop_command", "starter_command", "brake", "coolant"}
	var fields, cars, claims, wrong int
	var table strings.Builder
	fmt.Fprintf(&table, "%-12s %5s", "kind", "cars")
	for _, r := range roles {
		fmt.Fprintf(&table, " %15s", r)
	}
	fmt.Fprintf(&table, " %8s %8s %8s %8s %7s\n", "false", "scale", "guesses", "episodes", "s")
	for kind := range foreign.KindCount {
		if *draftKind != "" && kind.String() != *draftKind || testing.Short() && kind%3 > 0 {
			continue
		}
		sum := draftedCar{found: map[string]int{}, vary: map[string]int{}}
		episodes := 0
		for i, c := range draftedCars(kind, *draftSeed, n) {
			for _, r := range foreign.Roles() {
				sum.found[r] += min(c.found[r], c.vary[r])
				sum.vary[r] += c.vary[r]
			}
			sum.claims += c.claims
			sum.wrong += c.wrong
			sum.wrongScale += c.wrongScale
			sum.guesses += c.guesses
			sum.guessesRight += c.guessesRight
			sum.took += c.took
			if c.episodes {
				episodes++
			}
			for _, lie := range c.lies {
				t.Errorf("%s, seed %d: called sure and false: %s", kind, *draftSeed+int64(i), lie)
			}
			if *draftTell {
				for _, x := range c.told {
					t.Logf("%s %d: %s", kind, *draftSeed+int64(i), x)
				}
			}
		}
		if kind != foreign.Pages && kind != foreign.NeverStops && !testing.Short() && *draftKind == "" {
			fields += sum.found["engine_speed"]
			cars += sum.vary["engine_speed"]
			claims += sum.claims
			wrong += sum.wrong
		}
		fmt.Fprintf(&table, "%-12s %5d", kind, n)
		for _, r := range roles {
			text := "-"
			if sum.vary[r] > 0 {
				text = fmt.Sprintf("%d/%d %3.0f%%", sum.found[r], sum.vary[r], 100*float64(sum.found[r])/float64(sum.vary[r]))
			}
			fmt.Fprintf(&table, " %15s", text)
		}
		fmt.Fprintf(&table, " %8s %8d %8s %8s %7.2f\n", fmt.Sprintf("%d/%d", sum.wrong, sum.claims), sum.wrongScale, fmt.Sprintf("%d/%d", sum.guessesRight, sum.guesses), fmt.Sprintf("%d/%d", episodes, n), sum.took.Seconds()/float64(n))
	}
	t.Log("\n" + table.String())
	if 10*fields < 8*cars {
		t.Errorf("the engine speed, scale included, was found in %d of %d cars that show it", fields, cars)
	}
	if 100*wrong > 12*claims {
		t.Errorf("%d of %d claims are false", wrong, claims)
	}
}
