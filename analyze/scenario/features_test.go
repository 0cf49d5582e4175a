package scenario

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
)

// orderly tells what is wrong with an episode's moments.
func orderly(e *TrueEpisode) string {
	at := e.Stop
	after := func(m Moment) bool { return m == nil || *m > at }
	switch {
	case !after(e.Rest):
		return "rest before stop"
	case e.Request != nil && e.Request.At <= e.Stop:
		return "request before stop"
	case e.Request != nil && e.Decision != nil && *e.Decision <= e.Request.At:
		return "decision before request"
	case !after(e.Decision):
		return "decision before stop"
	}
	for _, c := range e.Cranks {
		if c <= at || e.Decision == nil || c < *e.Decision {
			return "crank out of order"
		}
		if e.Rest != nil && c <= *e.Rest {
			return "crank before rest"
		}
		at = c
	}
	switch {
	case !after(e.Running):
		return "running before crank"
	case e.Running != nil && len(e.Cranks) == 0:
		return "running without a crank"
	}
	if e.Running != nil {
		at = *e.Running
		if !after(e.TakeOff) {
			return "take-off before running"
		}
	}
	switch e.Outcome {
	case "restarted":
		if e.Running == nil || e.Rest == nil {
			return "restarted without rest or running"
		}
	case "change_of_mind":
		if e.Running == nil || e.Request == nil || (e.Rest != nil && e.Request.At > *e.Rest) {
			return "no change of mind"
		}
	case "aborted":
		if e.Rest != nil || len(e.Cranks) > 0 {
			return "not called off"
		}
	case "no_start", "ignition_off", "log_end":
		if e.Running != nil {
			return "it ran"
		}
	case "stalled":
	default:
		return "outcome " + e.Outcome
	}
	return ""
}

func TestTruthIsInItselfPossible(t *testing.T) {
	drives := Drives()
	for seed := range int64(40) {
		drives = append(drives, Random(seed))
	}
	outcomes := map[string]int{}
	for _, d := range drives {
		truth := d.Truth()
		if len(truth.Starts) == 0 || truth.Starts[0].Kind != "key" {
			t.Errorf("%s does not begin with a key start", d.Name)
		}
		if truth.End-truth.Start >= longest || truth.End-truth.Start < 20_000_000_000 {
			t.Errorf("%s lasts %d s", d.Name, (truth.End-truth.Start)/1e9)
		}
		last := truth.Start
		for i := range truth.Episodes {
			e := &truth.Episodes[i]
			outcomes[e.Outcome]++
			if wrong := orderly(e); wrong != "" {
				t.Errorf("%s episode %d: %s: %+v", d.Name, i+1, wrong, *e)
			}
			if e.Stop <= last {
				t.Errorf("%s episode %d begins before the one before it ended", d.Name, i+1)
			}
			last = e.Stop
			if e.Running != nil {
				last = *e.Running
				if e.VoltageMin < 3 || e.VoltageMin > 26 {
					t.Errorf("%s episode %d: lowest voltage %v", d.Name, i+1, e.VoltageMin)
				}
			}
		}
		last = truth.Start - 1
		for i, s := range truth.Standstills {
			if s.Start <= last || s.End <= s.Start || s.End > truth.End {
				t.Errorf("%s standstill %d: %+v", d.Name, i+1, s)
			}
			last = s.End
		}
	}
	t.Log(outcomes)
}

// The unit gives a stop command that it had decided on before the key was turned, a
// millisecond later; the key ends that stop at once.
func TestAKeyTurnedBeforeTheStopCommandShowsEndsTheStop(t *testing.T) {
	p := petrolPlan(1, 0)
	r := &newWorld(&p).record
	r.change(change{at: 1_000_000, what: ignition})
	r.change(change{at: 2_000_000, what: stopCommand, value: 1})
	r.finish(3_000_000)
	want := []TrueEpisode{{Outcome: "ignition_off", Stop: 2_000_000}}
	if d := cmp.Diff(want, r.truth.Episodes); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
}

// What the demonstration is there to show, each found in some drive.
func TestTheDemonstrationShowsEverything(t *testing.T) {
	has := map[string]int{}
	note := func(what string, is bool) {
		if is {
			has[what]++
		}
	}
	sides := map[string]Truth{}
	for _, d := range Drives() {
		truth := d.Truth()
		sides[d.Name] = truth
		for _, e := range truth.Episodes {
			note("outcome "+e.Outcome, true)
			if e.Request != nil {
				note("asked by "+e.Request.Name, true)
			}
			note("crank while the engine turns", len(e.Cranks) > 0 && e.Rest == nil && e.SpeedAtCrank > 150 && e.SpeedAtCrank < 420)
			note("crank after waiting for rest", e.Outcome == "change_of_mind" && e.Rest != nil)
			note("retry that worked", len(e.Cranks) > 1 && e.Running != nil)
			for _, s := range truth.Standstills {
				note("stop while still rolling", e.Stop < s.Start && e.Stop > s.Start-5_000_000_000)
				note("late stop with a reason", s.Stopped && s.Reason != "")
			}
			for _, s := range truth.Silences {
				note("silent while cranking: "+s.Module, e.Running != nil && len(e.Cranks) > 0 && s.Start > e.Cranks[0]-300_000_000 && s.Start < *e.Running)
			}
		}
		for _, s := range truth.Standstills {
			note("kept running: "+s.Reason, s.Opportunity && !s.Stopped && s.Reason != "")
			note("unexplained", s.Unexplained)
		}
		for _, s := range truth.Starts {
			note("start by "+s.Kind, true)
		}
		note("recording gap", len(truth.Gaps) > 0)
	}
	for _, want := range []string{
		"outcome restarted", "outcome change_of_mind", "outcome aborted", "outcome no_start", "outcome stalled", "outcome ignition_off", "outcome log_end",
		"asked by " + requestBrake, "asked by " + requestTurn, "asked by " + requestSteering, "asked by " + requestCharge,
		"crank while the engine turns", "crank after waiting for rest", "retry that worked", "stop while still rolling", "late stop with a reason",
		"silent while cranking: body unit", "silent while cranking: radio",
		"kept running: " + inhibitCold, "kept running: " + inhibitCabin, "kept running: " + inhibitDriver,
		"kept running: " + codeLabels[4], "kept running: " + codeLabels[6], "unexplained",
		"start by key", "start by restart", "start by retry", "recording gap",
	} {
		if has[want] == 0 {
			t.Errorf("no drive shows: %s", want)
		}
	}
	for _, name := range []string{"slow-to-go-before.log", "slow-to-go-after.log", "creeps-late-before.log", "creeps-late-after.log"} {
		if n := len(sides[name].Episodes); n < 8 {
			t.Errorf("%s has only %d episodes", name, n)
		}
	}
}

// A repair must show in the truth, or a comparison has nothing to find.
func TestTheRepairsShow(t *testing.T) {
	mean := func(name string, of func(*TrueEpisode) float64) float64 {
		for _, d := range Drives() {
			if d.Name != name {
				continue
			}
			sum, n := 0.0, 0.0
			truth := d.Truth()
			for i := range truth.Episodes {
				if e := &truth.Episodes[i]; e.Request != nil && e.Running != nil && e.Request.Name == requestBrake {
					sum += of(e)
					n++
				}
			}
			return sum / n
		}
		t.Fatalf("no drive %s", name)
		return 0
	}
	latency := func(e *TrueEpisode) float64 { return float64(*e.Running-e.Request.At) / 1e9 }
	lowest := func(e *TrueEpisode) float64 { return e.VoltageMin }
	takeOff := func(e *TrueEpisode) float64 { return float64(*e.TakeOff-e.Request.At) / 1e9 }
	if before, after := mean("slow-to-go-before.log", latency), mean("slow-to-go-after.log", latency); before < after+0.08 {
		t.Errorf("restart latency %.3f s before, %.3f s after", before, after)
	}
	if before, after := mean("slow-to-go-before.log", lowest), mean("slow-to-go-after.log", lowest); before > 8.5 || after < 9 {
		t.Errorf("lowest voltage %.2f V before, %.2f V after", before, after)
	}
	if before, after := mean("creeps-late-before.log", takeOff), mean("creeps-late-after.log", takeOff); before < after+0.15 {
		t.Errorf("take-off delay %.3f s before, %.3f s after", before, after)
	}
}

// The hydraulic pressure must sag below what its limit allows, before the repair
// only.
func TestHoldPressureSagsBeforeTheRepairOnly(t *testing.T) {
	for name, sags := range map[string]bool{"creeps-late-before.log": true, "creeps-late-after.log": false} {
		for _, d := range Drives() {
			if d.Name != name {
				continue
			}
			lowest := 1000.0
			w := newWorld(d.plan)
			w.play(func(*decode.Frame) bool {
				if w.out.value[stopCommand] == 1 {
					lowest = min(lowest, w.curve.new[holdPressure])
				}
				return true
			})
			if (lowest < 300) != sags {
				t.Errorf("%s: lowest pressure while stopped %.0f kPa", name, lowest)
			}
		}
	}
}
