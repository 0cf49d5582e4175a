package onelog_test

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/analyze/onelog"
	"lull/analyze/scenario"
	"lull/decode"
	"lull/decode/sigmap"
)

// Whenever the news are asked for, the Result is the one without, and what was told
// on the way is in it: episodes but for the take-off, standstills and findings.
func TestNewsChangeNothingAndTellWhatTheResultHas(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	late := map[string]bool{"take_off_delay": true, "take_off_shock": true}
	for _, d := range scenario.Drives() {
		m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
		if err != nil {
			t.Fatal(err)
		}
		quiet, told := onelog.NewRun(m), onelog.NewRun(m)
		cast := onelog.NewNewscast(told)
		var episodes []analyze.Episode
		var standstills []analyze.Standstill
		var findings []analyze.Finding
		take := func(n analyze.News) {
			episodes = append(episodes, n.Episodes...)
			standstills = append(standstills, n.Standstills...)
			findings = append(findings, n.Findings...)
		}
		every := 1 + rng.IntN(4000)
		cut := rng.Int64N(100e9) + 60e9 // the drive may end anywhere
		first := int64(0)
		for f := range d.Frames {
			if first == 0 {
				first = f.Time
			}
			if f.Time-first > cut {
				break
			}
			quiet.Push(f)
			told.Push(f)
			if rng.IntN(every) == 0 {
				take(cast.Next())
			}
		}
		want, got := quiet.Finish(decode.Info{}), told.Finish(decode.Info{})
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("%s: the news changed the result (-without +with):\n%s", d.Name, diff)
		}
		take(cast.Next())
		early := func(list []analyze.Episode) []analyze.Episode {
			list = slices.Clone(list)
			for i := range list {
				list[i].Metrics = slices.DeleteFunc(slices.Clone(list[i].Metrics), func(v analyze.MetricValue) bool { return late[v.Key] })
				list[i].Limits = slices.DeleteFunc(slices.Clone(list[i].Limits), func(l analyze.LimitVerdict) bool { return late[l.Limit.Metric] })
				if len(list[i].Limits) == 0 {
					list[i].Limits = nil
				}
			}
			return list
		}
		if diff := cmp.Diff(early(want.Episodes), early(episodes)); diff != "" {
			t.Errorf("%s: episodes of the result, and as told:\n%s", d.Name, diff)
		}
		if diff := cmp.Diff(want.Standstills, standstills); diff != "" {
			t.Errorf("%s: standstills of the result, and as told:\n%s", d.Name, diff)
		}
		whole := map[string]bool{"dip_undersampled": true, "counter_disagrees": true, "counter_reset": true, "log_damaged": true, "implausible_signal": true, "module_silent": true}
		text := func(list []analyze.Finding) []string {
			var texts []string
			for _, f := range list {
				if !whole[f.Code] && !(f.Code == "failed_start" && len(f.Evidence) > 0 && f.Evidence[0][0] == 's') {
					texts = append(texts, f.Code+": "+tellData(f.About))
				}
			}
			slices.Sort(texts)
			return texts
		}
		// Modules that were silent together may be told one by one.
		silent := ""
		for _, f := range findings {
			if f.Code == "module_silent" {
				silent += tellData(f.About) + "\n"
			}
		}
		for _, s := range want.Silences {
			if s.Episode != 0 && !strings.Contains(silent, s.ID) {
				t.Errorf("%s: the silence of %s was not told", d.Name, s.ID)
			}
		}
		if diff := cmp.Diff(text(want.Findings), text(findings)); diff != "" {
			t.Errorf("%s: findings of the result, and as told:\n%s", d.Name, diff)
		}
	}
}

func TestAStandstillIsToldSoonAfterItsEnd(t *testing.T) {
	d := parseDrive(t, "rpm: 0s=800\nspeed: 0s=10 1s=10 2s=0 20s=0 21s=10\nend: 60s", "")
	run := onelog.NewRun(d.m)
	cast := onelog.NewNewscast(run)
	for i := range d.frames {
		run.Push(&d.frames[i])
		if n := cast.Next(); len(n.Standstills) > 0 {
			if now := d.frames[i].Time - d.frames[0].Time; now > 21e9 {
				t.Errorf("told at %d ns", now)
			}
			return
		}
	}
	t.Error("told at the end of the log only")
}

// A standstill is over at the moment at which the vehicle leaves, when what its episode's
// take-off needs is still to come.
func TestAStandstillIsToldWithItsEpisodeThoughTheTakeOffIsStillToBeMeasured(t *testing.T) {
	d := parseDrive(t, `
		rpm: 0s=800 10s=800 10.8s=0 20s=0 20.4s=900 40s=900 40.8s=0 50s=0 50.4s=900
		speed: 0s=10 6s=10 7s=0 25s=0 26s=10 36s=10 37s=0 52s=0 53s=10
		stop: 0s=0 10s=1 20s=0 40s=1 50s=0
		brake: 0s=pressed 19.9s=released 30s=pressed 49.9s=released
		end: 70s`, `
restart_requests:
  - {name: brake, when: {signal: brake, is: released}}
`)
	run := onelog.NewRun(d.m)
	cast := onelog.NewNewscast(run)
	var told []int
	for i := range d.frames {
		run.Push(&d.frames[i])
		for _, s := range cast.Next().Standstills {
			told = append(told, s.Episode)
			if run.Status().Measuring == 0 {
				t.Errorf("standstill %d is told after its episode was measured", s.N)
			}
		}
	}
	if !slices.Equal(told, []int{1, 2}) {
		t.Errorf("the standstills told are of the episodes %v", told)
	}
}

// An episode is told two seconds and some after the engine runs again, also where
// the car stays where it is and the take-off cannot be measured yet.
func TestAnEpisodeIsToldWhileTheCarStillStands(t *testing.T) {
	d := parseDrive(t, `
		rpm: 0s=800 10s=800 10.8s=0 20s=0 20.4s=900
		speed: 0s=3000 4s=3000 6s=0 60s=0
		stop: 0s=0 10s=1 20s=0
		brake: 0s=pressed 19.9s=released
		end: 60s`, `
restart_requests:
  - {name: brake, when: {signal: brake, is: released}}
limits:
  restart_latency: {max: 0.1}
`)
	run := onelog.NewRun(d.m)
	cast := onelog.NewNewscast(run)
	var told int64
	standing, stopped := false, false
	for i := range d.frames {
		run.Push(&d.frames[i])
		now := d.frames[i].Time - d.frames[0].Time
		s := run.Status()
		standing = standing || s.Standing != nil && s.Stands == analyze.True
		stopped = stopped || s.Stop != nil && s.Rests && s.Engine == analyze.False
		if n := cast.Next(); len(n.Episodes) > 0 && told == 0 {
			told = now
			e := n.Episodes[0]
			if e.N != 1 || len(e.Limits) != 1 || e.Limits[0].Verdict != analyze.Outside {
				t.Errorf("told as episode %d with %+v", e.N, e.Limits)
			}
		}
	}
	if told < 22e9 || told > 24e9 {
		t.Errorf("told at %d ns", told)
	}
	if !standing || !stopped {
		t.Errorf("the status never showed it: standing %v, stopped %v", standing, stopped)
	}
}
