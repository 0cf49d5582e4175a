package findings

import (
	"slices"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
)

// Thresholds of doubt: common practice, no source.
const (
	// jumpShare of all changes of a signal are jumps, and there are leastJumps of them.
	// Disturbed frames make fewer.
	jumpShare  = 0.05
	leastJumps = 20
	// idleLow to idleHigh is where engines idle, in rpm, but for the first minute of a cold one, and further out than
	// idleLeast and idleMost the map's factor is wrong.
	idleLow, idleHigh   = 450, 1400
	idleLeast, idleMost = 300, 2500
	leastIdle           = 100 // samples
	// movedKm is how far the vehicle has to go for the engine to have moved it, and steadyKm
	// for its speed to have changed.
	movedKm, steadyKm = 0.05, 0.3
	// againstKey is how long the engine has to run without the ignition, in ns.
	againstKey = 10 * bounds.Second
	// lostShare of the lines, or of the drive, are missing.
	lostShare = 0.25
)

// Trust returns whether what was found can be believed. It is called at the end, and from
// time to time during a drive for what is known so far.
func (r *Finder) Trust() analyze.Trust {
	var list []analyze.Doubt
	add := func(code string, grave bool, signal string, cause analyze.Cause) {
		list = append(list, analyze.Doubt{Code: code, Grave: grave, Signal: signal, Cause: cause})
	}
	r.doubtEngine(add)
	engine := len(list)
	for role := decode.NoRole + 1; role < decode.RoleCount; role++ {
		if signal := r.M.RoleSignal(role); signal != nil && role != decode.EngineSpeed {
			r.doubtSignal(role, signal, add)
		}
	}
	if engine == 0 {
		r.doubtIdle(add)
	}
	r.doubtConditions(add)
	if !slices.ContainsFunc(list[:engine], func(d analyze.Doubt) bool { return d.Grave }) {
		r.doubtCommands(add) // they are held against the engine speed
	}
	r.doubtLog(add)
	slices.SortStableFunc(list, func(a, b analyze.Doubt) int {
		switch {
		case a.Grave == b.Grave:
			return 0
		case a.Grave:
			return -1
		}
		return 1
	})
	t := analyze.Trust{Credence: analyze.Sound, Doubts: list}
	switch {
	case len(list) == 0:
	case list[0].Grave:
		t.Credence = analyze.Unusable
	default:
		t.Credence = analyze.Doubtful
	}
	return t
}

// adder takes a doubt.
type adder func(code string, grave bool, signal string, cause analyze.Cause)

// doubtSignal doubts the values of one role.
func (r *Finder) doubtSignal(role decode.Role, signal *decode.Signal, add adder) {
	grave := role == decode.EngineSpeed
	k := &r.Plausible.Roles[role]
	if !r.Has(role) || role == decode.EngineSpeed && !r.result.EngineSpeedSeen {
		r.doubtUnseen(role, signal, grave, add)
		return
	}
	if about, implausible := r.implausible(role, signal); implausible {
		code := analyze.DoubtBeyond
		if about.Throughout {
			code = analyze.DoubtStuck
		}
		add(code, grave, signal.Name, about)
		return
	}
	if k.jumps >= leastJumps && float64(k.jumps) > jumpShare*float64(k.changes) {
		add(analyze.DoubtJumps, grave, signal.Name, analyze.JumpingSignal{
			Signal: signal.Name, Role: role, From: k.from, To: k.to, Jumps: k.jumps, Changes: k.changes, Slip: r.likelySlip(role, signal)})
	}
}

// doubtUnseen doubts a map that names what the log has no value of.
func (r *Finder) doubtUnseen(role decode.Role, signal *decode.Signal, grave bool, add adder) {
	if r.doubtShort(signal, grave, add) {
		return
	}
	if role == decode.EngineSpeed || role == decode.VehicleSpeed {
		add(analyze.DoubtNeverSeen, grave, signal.Name, analyze.UnseenSignal{
			Signal: signal.Name, Role: role, Frame: r.M.Entries[signal.Entry].Label(), Frames: r.Plausible.longest[signal.Entry] > 0})
	}
}

// doubtShort doubts a signal whose bits reach past the end of its frames, and reports
// whether they do.
func (r *Finder) doubtShort(signal *decode.Signal, grave bool, add adder) bool {
	entry, longest, needs := &r.M.Entries[signal.Entry], r.Plausible.longest[signal.Entry], signal.LastByte()+1
	if longest == 0 || longest >= needs || entry.Polled() {
		return false
	}
	add(analyze.DoubtBeyondFrame, grave, signal.Name, analyze.ShortFrame{
		Signal: signal.Name, Role: signal.Role, Frame: entry.Label(), Needs: needs, Bytes: longest})
	return true
}

// doubtConditions doubts what conditions read.
func (r *Finder) doubtConditions(add adder) {
	for i := range r.result.Exercised.Signals {
		index := r.result.Exercised.Signals[i].Signal
		if signal := &r.M.Signals[index]; !r.Seen[index] && signal.Role == decode.NoRole {
			r.doubtShort(signal, false, add)
		}
	}
}

// doubtEngine doubts an engine speed that never was that of a running engine, or cannot be
// one.
func (r *Finder) doubtEngine(add adder) {
	signal, k := r.M.RoleSignal(decode.EngineSpeed), &r.Plausible.Roles[decode.EngineSpeed]
	if signal == nil {
		return
	}
	enough := k.seen >= leastSamples
	still := enough && k.max < r.M.Settings.RunningSpeed
	switch km := r.result.Distance.Value; {
	case still && km >= movedKm || enough && k.min == k.max && km >= steadyKm:
		add(analyze.DoubtStuck, true, signal.Name, analyze.StillEngine{
			Signal: signal.Name, Low: k.min, High: k.max, Km: km, Slip: r.likelySlip(decode.EngineSpeed, signal)})
	case still:
		add(analyze.DoubtEngineOff, true, signal.Name, analyze.EngineOff{Signal: signal.Name})
	default:
		r.doubtSignal(decode.EngineSpeed, signal, add)
	}
}

// IdleSpeed returns the median speed, in rpm, at which the engine ran while the vehicle
// stood; 0 if that was too seldom.
func (r *Finder) IdleSpeed() float64 {
	return r.Plausible.Idle.median()
}

// doubtIdle doubts an engine that idles at a speed at which none does.
func (r *Finder) doubtIdle(add adder) {
	if idle := r.result.IdleSpeed; idle != 0 && (idle < idleLow || idle > idleHigh) {
		name := r.M.RoleSignal(decode.EngineSpeed).Name
		add(analyze.DoubtIdleSpeed, idle < idleLeast || idle > idleMost, name, analyze.OddIdle{Signal: name, Idle: idle})
	}
}

// doubtCommands doubts switches that say what the engine does not do.
func (r *Finder) doubtCommands(add adder) {
	if about, against := r.implausibleCommand(); against {
		add(analyze.DoubtAgainst, true, about.Signal, about)
	}
	never := func(role decode.Role) (*decode.Signal, bool) {
		return r.M.RoleSignal(role), r.Has(role) && !r.Plausible.On[role]
	}
	stalls, asked, uncranked := 0, 0, 0
	for _, e := range r.Done {
		if e.Outcome == analyze.Stalled {
			stalls++
			if e.Request != nil {
				asked++
			}
		}
		if e.Rest != nil && e.Running != nil && len(e.Cranks) == 0 {
			uncranked++
		}
	}
	// An engine that a driver stalls is not restarted by letting go of the brake.
	if signal, off := never(decode.StopCommand); off && (asked > 0 || stalls > 2) {
		add(analyze.DoubtNeverOn, asked > 0, signal.Name, analyze.SilentCommand{Signal: signal.Name, Role: decode.StopCommand, Times: stalls})
	}
	if signal, off := never(decode.StarterCommand); off && uncranked > 1 {
		add(analyze.DoubtNeverOn, false, signal.Name, analyze.SilentCommand{Signal: signal.Name, Role: decode.StarterCommand, Times: uncranked})
	}
	if ran := r.Plausible.ranKeyOff; ran >= againstKey && ran > r.Plausible.ranKeyOn {
		name := r.M.RoleSignal(decode.Ignition).Name
		add(analyze.DoubtIgnition, false, name, analyze.DeadIgnition{Signal: name, Ran: ran})
	}
}

// doubtLog doubts a log of which much is missing.
func (r *Finder) doubtLog(add adder) {
	info := &r.result.Info
	if of := info.Accepted + info.Rejected; float64(info.Rejected) > lostShare*float64(of) {
		add(analyze.DoubtLinesLost, false, "", analyze.LostShare{Lost: info.Rejected, Of: of})
	}
	lost := int64(0)
	for _, g := range r.result.Gaps {
		lost += g.End - g.Start
	}
	if float64(lost) > lostShare*float64(r.result.Span) {
		add(analyze.DoubtRecordingGap, false, "", analyze.LostShare{Lost: lost, Of: r.result.Span})
	}
}

// Withdraw takes back of a Result that is unusable what accuses and what acquits: no limit
// is judged, and of the findings those on the map and the recording are left.
func Withdraw(result *analyze.Result) {
	for i := range result.Episodes {
		limits := slices.Clone(result.Episodes[i].Limits)
		for k := range limits {
			limits[k].Verdict = analyze.Unseen
		}
		result.Episodes[i].Limits = limits
	}
	result.Findings = slices.DeleteFunc(result.Findings, func(f analyze.Finding) bool {
		return f.Code != analyze.CodeImplausible && f.Code != analyze.CodeGap && f.Code != analyze.CodeLogDamaged
	})
}
