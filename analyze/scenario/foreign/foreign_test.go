package foreign

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"

	"lull/analyze"
	"lull/analyze/onelog"
	"lull/decode"
	"lull/decode/candump"
	"lull/decode/sigmap"
)

var (
	writeTo  = flag.String("foreign.write", "", "folder to write unknown cars into: log, true map, marks, database of each")
	writeAll = flag.Int("foreign.cars", 4, "how many of each kind are written")
	many     = flag.Int("foreign.many", 4, "how many cars of each kind are read with their true maps")
	judged   = flag.String("foreign.judge", "", "folder with drafted maps of written cars, NAME.draft.yaml")
	only     = flag.String("foreign.kind", "", "the only kind that tests take")
)

// each runs a function for many cars of every kind, on all processors.
func each(t *testing.T, cars int, check func(u *Unknown)) {
	t.Helper()
	type job struct {
		seed int64
		kind Kind
	}
	jobs := make(chan job)
	var wait sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for j := range jobs {
				check(NewUnknown(j.seed, j.kind))
			}
		})
	}
	for seed := range cars {
		for kind := range KindCount {
			if *only != "" && kind.String() != *only {
				continue
			}
			jobs <- job{int64(seed), kind}
		}
	}
	close(jobs)
	wait.Wait()
}

// analyse reads a car's log with its true map.
func analyse(t *testing.T, u *Unknown) (*decode.Map, *analyze.Result) {
	m, err := sigmap.Parse("map.yaml", u.Map)
	if err != nil {
		t.Errorf("%s: %v", u.Name, err)
		return nil, nil
	}
	run := onelog.NewRun(m)
	u.Play(func(f *decode.Frame) bool { run.Push(f); return true })
	return m, run.Finish(decode.Info{Stamps: decode.StampsAbsolute, StampDigits: 6})
}

// cars is how many of each kind a test takes.
func cars(most int) int {
	if testing.Short() || raceDetector {
		return 1
	}
	return most
}

// A true map finds the true episodes: every restart at its time, and nothing that
// never was. Outcomes differ at times, where what tells them apart is not on the bus
// or comes too seldom.
func TestTheTrueMapFindsWhatHappened(t *testing.T) {
	var lock sync.Mutex
	found, alike, all := 0, 0, 0
	each(t, cars(*many), func(u *Unknown) {
		m, r := analyse(t, u)
		if r == nil {
			return
		}
		lock.Lock()
		defer lock.Unlock()
		used := map[int]bool{}
		near := int64(50 * ms)
		p, _ := u.layout.best("engine_speed")
		if p.sender == nil {
			near = 1500 * ms // polled
		} else {
			near += p.sender.period*int64(len(p.sender.messages)) + int64(p.field.late+int(p.field.holds))*ms + seconds(2*p.field.lag)
		}
		for i := range u.Truth.Episodes {
			e := &u.Truth.Episodes[i]
			if e.Running == nil || e.Rest == nil || p.sender == nil && *e.Running-*e.Rest < 2500*ms {
				continue
			}
			if len(e.Cranks) > 1 && m.Role[decode.StarterCommand] < 0 {
				continue // where a failed start is not told from a long crank
			}
			all++
			match := -1
			for k := range r.Episodes {
				if x := r.Episodes[k].Running; x != nil && max(x.T+r.Start-*e.Running, *e.Running-x.T-r.Start) <= near {
					match = k
				}
			}
			if match < 0 {
				t.Errorf("%s (%+v): restart at %.3f s is not found: %+v", u.Name, u.Traits, float64(*e.Running-r.Start)/1e9, restarts(r))
				continue
			}
			used[match] = true
			found++
			if string(r.Episodes[match].Outcome) == e.Outcome {
				alike++
			}
		}
		for k := range r.Episodes {
			x := &r.Episodes[k]
			real := used[k] || x.Running == nil && k == len(r.Episodes)-1
			for i := range u.Truth.Episodes {
				e := &u.Truth.Episodes[i]
				real = real || x.Stop.T+r.Start > e.Stop-near && (e.Running == nil || x.Stop.T+r.Start < *e.Running+near)
			}
			if !real {
				t.Errorf("%s (%+v): an episode from %.2f s that never was: %s", u.Name, u.Traits, float64(x.Stop.T)/1e9, x.Outcome)
			}
		}
	})
	t.Logf("%d restarts, %d found, %d with the same outcome", all, found, alike)
	if 100*alike < 90*found {
		t.Error("too many outcomes differ")
	}
}

func sums(u *Unknown) string {
	h := sha256.New()
	var line []byte
	u.Play(func(f *decode.Frame) bool {
		line = candump.AppendFrame(line[:0], f)
		h.Write(line)
		return true
	})
	h.Write(u.Map)
	h.Write(u.Marks)
	h.Write(u.DBC)
	return fmt.Sprintf("%x", h.Sum(nil))
}

func TestASeedAlwaysGivesTheSame(t *testing.T) {
	each(t, 1, func(u *Unknown) {
		a, b := sums(u), sums(NewUnknown(0, u.Traits.Kind))
		u.Varies("brake") // looks at the log
		if c := sums(u); a != b || a != c {
			t.Errorf("%s: %s, %s, %s", u.Name, a, b, c)
		}
	})
}

// Every signal of the true map is right by Judge, and a shifted one is not.
func TestTheTrueMapIsJudgedRight(t *testing.T) {
	each(t, cars(4), func(u *Unknown) {
		m, err := sigmap.Parse("map.yaml", u.Map)
		if err != nil {
			t.Error(err)
			return
		}
		for i := range m.Signals {
			s := m.Signals[i]
			role := s.Role.String()
			if role == "" {
				role = strings.TrimSuffix(strings.SplitN(s.Name, "_", 2)[0], "_")
				if strings.HasPrefix(s.Name, "polled_coolant") {
					role = "coolant"
				}
				if role == "page" {
					continue
				}
			}
			if v := u.Judge(role, m, &s); !v.FieldRight || !v.ScaleRight || v.Cut {
				t.Errorf("%s: %s %s: %+v", u.Name, role, s.Name, v)
			}
			s.Start += 3
			if v := u.Judge(role, m, &s); v.FieldRight && s.Length > 1 {
				t.Errorf("%s: %s shifted: %+v", u.Name, s.Name, v)
			}
		}
	})
}

func TestFramesComeInOrderAndAreMany(t *testing.T) {
	each(t, cars(2), func(u *Unknown) {
		last, first, n := int64(0), int64(0), 0
		ids := map[uint32]bool{}
		u.Play(func(f *decode.Frame) bool {
			if f.Time < last {
				t.Errorf("%s: %d after %d", u.Name, f.Time, last)
				return false
			}
			if first == 0 {
				first = f.Time
			}
			last = f.Time
			ids[f.ID] = true
			n++
			return true
		})
		if first < u.Truth.Start-ms || last > u.Truth.End+ms {
			t.Errorf("%s: frames outside of the recording", u.Name)
		}
		t.Logf("%s: %.0f s, %d identifiers, %.0f frames/s, %d episodes", u.Name, float64(last-first)/1e9, len(ids), float64(n)/(float64(last-first)/1e9), len(u.Truth.Episodes))
	})
}

// Judges maps that another program drafted from written logs: NAME.draft.yaml for
// each NAME.log in the folder.
func TestJudgeDrafts(t *testing.T) {
	if *judged == "" {
		t.Skip("no -foreign.judge")
	}
	var lock sync.Mutex
	type tally struct{ varies, right, field, wrong int }
	table := map[string]map[string]*tally{}
	each(t, *writeAll, func(u *Unknown) {
		text, err := os.ReadFile(filepath.Join(*judged, u.Name+".draft.yaml"))
		if err != nil {
			return
		}
		m, err := sigmap.Parse("draft", text)
		if err != nil {
			t.Logf("%s: %v", u.Name, err)
			m = &decode.Map{}
		}
		kind := u.Traits.Kind.String()
		for _, role := range Roles() {
			var s *decode.Signal
			for i := range m.Signals {
				if x := &m.Signals[i]; x.Role.String() == role || x.Role == decode.NoRole && x.Name == role {
					s = x
				}
			}
			varies := u.Varies(role)
			lock.Lock()
			if table[kind] == nil {
				table[kind] = map[string]*tally{}
			}
			if table[kind][role] == nil {
				table[kind][role] = &tally{}
			}
			c := table[kind][role]
			if varies {
				c.varies++
			}
			if s != nil {
				v := u.Judge(role, m, s)
				switch {
				case v.FieldRight && v.ScaleRight:
					c.right++
				case v.FieldRight:
					c.field++
				default:
					c.wrong++
				}
				if !v.FieldRight || !v.ScaleRight {
					t.Logf("%s: %s %s: %+v", u.Name, role, m.Entries[s.Entry].Label(), v)
				}
			} else if varies {
				t.Logf("%s: %s not found", u.Name, role)
			}
			lock.Unlock()
		}
	})
	for kind := range KindCount {
		for _, role := range Roles() {
			if c := table[kind.String()][role]; c != nil && (c.varies > 0 || c.right+c.field+c.wrong > 0) {
				t.Logf("%-12s %-16s varies in %2d: %2d right, %2d with a wrong scale, %2d false", kind, role, c.varies, c.right, c.field, c.wrong)
			}
		}
	}
}

// Writes cars for people and other programs to look at.
func TestWriteCars(t *testing.T) {
	if *writeTo == "" {
		t.Skip("no -foreign.write")
	}
	if err := os.MkdirAll(*writeTo, 0o755); err != nil {
		t.Fatal(err)
	}
	each(t, *writeAll, func(u *Unknown) {
		write(t, u, *writeTo)
	})
}

func write(t *testing.T, u *Unknown, folder string) {
	var log bytes.Buffer
	w := bufio.NewWriter(&log)
	var line []byte
	u.Play(func(f *decode.Frame) bool {
		line = candump.AppendFrame(line[:0], f)
		w.Write(line)
		return true
	})
	w.Flush()
	for ending, data := range map[string][]byte{".log": log.Bytes(), ".yaml": u.Map, ".marks": u.Marks, ".dbc": u.DBC} {
		if data == nil {
			continue
		}
		if err := os.WriteFile(filepath.Join(folder, u.Name+ending), data, 0o644); err != nil {
			t.Error(err)
		}
	}
}

// restarts lists when the engine runs again.
func restarts(r *analyze.Result) (all []float64) {
	for i := range r.Episodes {
		if x := r.Episodes[i].Running; x != nil {
			all = append(all, float64(x.T)/1e9)
		}
	}
	return all
}
