package starter

import (
	"cmp"
	"slices"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/stats"
)

// Account is the life of one vehicle's starter as far as several logs tell
// of it.
type Account struct {
	// Logs are in the order of their starts. One that is another one once more is
	// left out.
	Logs []analyze.Log
	// Double names the logs left out.
	Double []string

	Key, Restart, Retry int     // of all Logs
	Resets              []Reset // in the order of Logs
	// Unrecorded is by how much the counter went on between the logs without an
	// operation seen.
	Unrecorded float64

	// HandOn is what a new control module must be given: the last reading and the
	// operations seen after it.
	HandOn  analyze.Total
	PerHour Rate // operations an hour in which the engine ran
	PerKm   Rate // operations a km
	Left    Left // of starter_limit

	Findings []analyze.Finding // attention first, then in the order of Logs; evidence their names
}

// Reset is a reading lower than the one before it.
type Reset struct {
	After, Before string  // the logs between which it lies, alike where it lies within one
	From, To      float64 // the readings, before and after
	Time          int64   // within a log: ns from its first frame
}

// Rate is how many operations there were for each hour or km, with the exact
// Poisson interval of Confidence. That is uncertainty of statistics, which
// the bounds of a measurement are not.
type Rate struct {
	Absent           analyze.Reason // nil if there is a rate
	Operations       int            // counted
	Over             float64        // h or km
	Value, Low, High float64        // operations for each of Over
}

// Confidence is that of the intervals of an Account.
const Confidence = 0.95

// LeastKm is how far the logs have to go for the km that are left to be told: some days of
// everyday driving. From less, and least of all from a test that stops on purpose, a life
// of many thousand km cannot be told, whatever the interval says. Common practice, no
// source.
const LeastKm = 100

// Left is what is left to the map's starter_limit: operations, and how far
// the vehicle goes with them at the rate seen and at both ends of its interval, where the
// logs hold LeastKm.
type Left struct {
	Operations, Km, Low, High analyze.Total
}

// New puts the logs of one vehicle in the order of their starts and adds
// up what they tell of its starter. Logs without a date keep the place at which they
// were given. That a counter is handed on to a new module, and that a new starter
// begins at 0, is common practice, no source; the maker's procedure decides.
func New(m *decode.Map, logs []analyze.Log) *Account {
	a := &Account{}
	a.leaveDoublesOut(logs)
	a.order()
	a.overlaps()
	for _, l := range a.Logs {
		a.Key += l.Result.Starter.Key
		a.Restart += l.Result.Starter.Restart
		a.Retry += l.Result.Starter.Retry
	}
	a.readings(m.RoleSignal(decode.StarterCount))
	a.PerHour = a.rate(func(r *analyze.Result) analyze.Total { return r.EngineHours }, analyze.NeverRan)
	a.PerKm = a.rate(func(r *analyze.Result) analyze.Total { return r.Distance }, analyze.NeverMoved)
	a.Left = a.left(m.Settings.StarterLimit)
	slices.SortStableFunc(a.Findings, func(f, g analyze.Finding) int { return cmp.Compare(f.Severity.Weight(), g.Severity.Weight()) })
	return a
}

// Operations counts all starter operations of the logs.
func (a *Account) Operations() int { return a.Key + a.Restart + a.Retry }

// Disagrees reports whether the counter, where it was read, stepped otherwise than
// the operations seen, within a log or between two.
func (a *Account) Disagrees() bool {
	return slices.ContainsFunc(a.Findings, func(f analyze.Finding) bool { return f.Code == analyze.CodeCounterDisagrees })
}

func (a *Account) add(code string, severity analyze.Severity, evidence []string, about analyze.About) {
	a.Findings = append(a.Findings, analyze.Finding{Code: code, Severity: severity, Evidence: evidence, About: about})
}

func (a *Account) leaveDoublesOut(logs []analyze.Log) {
	for _, l := range logs {
		i := slices.IndexFunc(a.Logs, func(k analyze.Log) bool { return analyze.SameDrive(&k, &l) })
		if i < 0 {
			a.Logs = append(a.Logs, l)
			continue
		}
		a.Double = append(a.Double, l.Name)
		a.add(analyze.CodeLogTwice, analyze.Note, []string{a.Logs[i].Name, l.Name}, analyze.AmongLogs{Logs: []string{l.Name}, Others: []string{a.Logs[i].Name}})
	}
}

// order sorts the dated logs by their starts; the others stay where they are.
func (a *Account) order() {
	var places []int
	var dated []analyze.Log
	var undated, zoned, unzoned []string
	for i := range a.Logs {
		l := &a.Logs[i]
		switch {
		case !l.Result.Dated():
			undated = append(undated, l.Name)
			continue
		case l.Result.Info.Stamps == decode.StampsDate:
			unzoned = append(unzoned, l.Name)
		default:
			zoned = append(zoned, l.Name)
		}
		places, dated = append(places, i), append(dated, *l)
	}
	byStart := func(k, l analyze.Log) int { return cmp.Compare(k.Result.Start, l.Result.Start) }
	if !slices.IsSortedFunc(dated, byStart) {
		slices.SortStableFunc(dated, byStart)
		for i, place := range places {
			a.Logs[place] = dated[i]
		}
		a.add(analyze.CodeOrderByStart, analyze.Note, a.names(), analyze.AmongLogs{Logs: a.names()})
	}
	if len(undated) > 0 && len(a.Logs) > 1 {
		a.add(analyze.CodeStartUnknown, analyze.Note, undated, analyze.AmongLogs{Logs: undated})
	}
	if len(zoned) > 0 && len(unzoned) > 0 {
		a.add(analyze.CodeZoneUnknown, analyze.Note, unzoned, analyze.AmongLogs{Logs: unzoned, Others: zoned})
	}
}

func (a *Account) names() []string {
	names := make([]string, len(a.Logs))
	for i := range a.Logs {
		names[i] = a.Logs[i].Name
	}
	return names
}

// overlaps tells of logs that were recorded at the same time: one drive in two
// files, two vehicles, or a clock that was wrong.
func (a *Account) overlaps() {
	last := -1 // the log that ends latest
	for i := range a.Logs {
		l := &a.Logs[i]
		if !l.Result.Dated() {
			continue
		}
		if last >= 0 {
			before := &a.Logs[last]
			if over := min(end(before), end(l)) - l.Result.Start; over > 0 {
				a.add(analyze.CodeLogsOverlap, analyze.Attention, []string{before.Name, l.Name}, analyze.AmongLogs{Logs: []string{before.Name, l.Name}, Overlap: over})
			}
		}
		if last < 0 || end(l) > end(&a.Logs[last]) {
			last = i
		}
	}
}

func end(l *analyze.Log) int64 { return l.Result.Start + l.Result.Span }

// readings follows the counter from log to log.
func (a *Account) readings(signal *decode.Signal) {
	before := -1 // the last log with a reading
	after := 0   // operations seen since that reading
	for i := range a.Logs {
		l := &a.Logs[i]
		s := &l.Result.Starter
		a.counterFindings(l)
		if s.Absent != nil {
			after += s.Operations()
			continue
		}
		if before >= 0 {
			a.between(&a.Logs[before], l, after, signal)
		}
		for _, reset := range s.Resets {
			a.Resets = append(a.Resets, Reset{After: l.Name, Before: l.Name, From: reset.From, To: reset.To, Time: reset.Time})
		}
		before, after = i, s.After
	}
	if before < 0 {
		a.HandOn.Absent = analyze.NoReading
		if signal == nil {
			a.HandOn.Absent = analyze.NoSignal{Role: decode.StarterCount}
		}
		return
	}
	a.HandOn.Value = a.Logs[before].Result.Starter.Last + float64(after)
	if before < len(a.Logs)-1 {
		a.add(analyze.CodeCounterNotSeen, analyze.Note, a.names()[before+1:], analyze.AmongLogs{Logs: a.names()[before+1:], Others: a.names()[before : before+1], Seen: after})
	}
}

// counterFindings takes over what a log itself tells of its counter.
func (a *Account) counterFindings(l *analyze.Log) {
	for _, f := range l.Result.Findings {
		if f.Code == analyze.CodeCounterDisagrees || f.Code == analyze.CodeCounterReset {
			a.add(f.Code, f.Severity, []string{l.Name}, analyze.OfLog{Log: l.Name, Finding: f})
		}
	}
}

// between holds the first reading of a log against the last one before it, after
// which so many operations were seen.
func (a *Account) between(before, now *analyze.Log, after int, signal *decode.Signal) {
	from, to := before.Result.Starter.Last, now.Result.Starter.First
	step, reset := analyze.CounterStep(from, to, signal)
	evidence := []string{before.Name, now.Name}
	about := analyze.CounterBetween{Last: before.Name, Next: now.Name, From: from, To: to, Step: step, Seen: after}
	switch {
	case reset:
		a.Resets = append(a.Resets, Reset{After: before.Name, Before: now.Name, From: from, To: to})
		a.add(analyze.CodeCounterReset, analyze.Note, evidence, about)
	case step < float64(after):
		a.add(analyze.CodeCounterDisagrees, analyze.Attention, evidence, about)
	case step > float64(after):
		a.Unrecorded += step - float64(after)
		a.add(analyze.CodeOperationsUnrecorded, analyze.Note, evidence, about)
	}
}

// rate adds up what there was to a log's operations and takes the exact interval of
// a Poisson count (Garwood, Biometrika 28, 1936). never says why there is none where
// nothing was added.
func (a *Account) rate(over func(*analyze.Result) analyze.Total, never analyze.Reason) Rate {
	var rate Rate
	for _, l := range a.Logs {
		total := over(l.Result)
		if total.Absent != nil {
			rate.Absent = total.Absent
			continue
		}
		rate.Operations += l.Result.Starter.Operations()
		rate.Over += total.Value
	}
	if rate.Over > 0 {
		rate.Absent = nil
	} else if rate.Absent == nil {
		rate.Absent = never
	}
	interval, ok := stats.Poisson(rate.Operations, Confidence)
	if rate.Absent == nil && !ok {
		rate.Absent = analyze.TooManyOperations
	}
	if rate.Absent != nil {
		return Rate{Absent: rate.Absent}
	}
	rate.Value, rate.Low, rate.High = float64(rate.Operations)/rate.Over, interval.Low/rate.Over, interval.High/rate.Over
	return rate
}

// left is what the limit leaves, 0 if it is reached.
func (a *Account) left(limit float64) Left {
	none := func(why analyze.Reason) Left {
		t := analyze.Total{Absent: why}
		return Left{t, t, t, t}
	}
	switch {
	case !(limit > 0):
		return none(analyze.NoStarterLimit)
	case a.HandOn.Absent != nil:
		return none(a.HandOn.Absent)
	}
	l := Left{Operations: analyze.Total{Value: max(0, limit-a.HandOn.Value)}}
	if l.Operations.Value == 0 {
		return l // and no km either
	}
	why := a.PerKm.Absent
	if why == nil && a.PerKm.Over < LeastKm {
		why = analyze.TooLittleDriven{Km: a.PerKm.Over, Least: LeastKm}
	}
	if why != nil {
		t := analyze.Total{Absent: why}
		l.Km, l.Low, l.High = t, t, t
		return l
	}
	at := func(rate float64) analyze.Total {
		if rate == 0 {
			return analyze.Total{Absent: analyze.NoOperation}
		}
		return analyze.Total{Value: l.Operations.Value / rate}
	}
	l.Km, l.Low, l.High = at(a.PerKm.Value), at(a.PerKm.High), at(a.PerKm.Low)
	return l
}
