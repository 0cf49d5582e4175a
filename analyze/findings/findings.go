package findings

import (
	"cmp"
	"slices"
	"strconv"

	"lull/analyze"
	"lull/analyze/feed"
	"lull/analyze/segment"
	"lull/pkg/bounds"
)

// findingOrder is what findings are sorted by after their severity: first what
// makes all else doubtful, then an engine that does not run, what the restart
// itself shows, the stops that did not come, and the counter; of the notes first
// those on the restarts, last those on the recording.
var findingOrder = []string{
	analyze.CodeImplausible, analyze.CodeFailedStart, analyze.CodeStalled, analyze.CodePressureLost, analyze.CodeLimitBroken, analyze.CodeModuleSilent, analyze.CodeUnexplained, analyze.CodeCounterDisagrees,
	analyze.CodeLimitBorderline, analyze.CodeNoRestartRequest, analyze.CodeCannotTell, analyze.CodeDipUndersampled, analyze.CodeCounterReset, analyze.CodeGap, analyze.CodeLogDamaged,
}

// Finder looks for what a reader should look at in what was found of a log.
type Finder struct {
	*feed.Recording
	result    *analyze.Result
	Done      []*segment.Episode // handed out, in order
	SilentIn  []int              // the part of the log that each of result.Silences lies in
	Plausible plausible
}

// New looks at what is recorded in r and found in result, both while they grow.
func New(r *feed.Recording, result *analyze.Result) *Finder {
	return &Finder{Recording: r, result: result, Plausible: NewPlausible(r.M)}
}

// silenceBefore and silenceAfter are how far before the crank onset and after running a silence
// counts as one that the start made.
const (
	silenceBefore = 100 * bounds.Millisecond
	silenceAfter  = 2 * bounds.Second
)

// AssignSilences finds the episode that each silence overlaps.
func (r *Finder) AssignSilences() {
	for i := range r.result.Silences {
		s := &r.result.Silences[i]
		end := r.silenceEnd(s)
		for _, e := range r.Done {
			from, ok := e.RestartFrom(int64(r.M.Settings.RequestWindow))
			if !ok || e.Part != r.SilentIn[i] {
				continue
			}
			until := e.WindowEnd().High
			if e.Running != nil {
				until += silenceAfter
			}
			if s.Start <= until && end >= from-silenceBefore {
				s.Episode = e.N
				break
			}
		}
	}
}

// silenceEnd is when a silence ended: its duration leaves the gaps in it out.
func (r *Finder) silenceEnd(s *analyze.Silence) int64 {
	end := s.Start + s.Duration
	for _, g := range r.result.Gaps {
		if g.Start >= s.Start && g.Start < end {
			end += g.End - g.Start
		}
	}
	return end
}

// All gathers what the reader should look at: attention before notes, each in
// findingOrder, those of one code in the order of the drive. What has one cause is
// one finding:
//
//   - a stall whose restart needed more than one try is `stalled` alone;
//   - the times that a failed try makes longer are told with that try;
//   - broken limits of one restart are told together where one holds the other in
//     it (measure.Family), as the delay of the take-off holds that of the restart;
//   - modules that fell silent at the same time are told together;
//   - where a request cannot be told, that no other explains the restart is not
//     told too.
//
// A broken limit on the voltage and a module that fell silent stay apart: one is
// measured, and that it brought about the other cannot be known from a log.
func (r *Finder) All() []analyze.Finding {
	var list Findings
	for _, e := range r.Done {
		r.EpisodeFindings(e, &list)
		r.silenceFindings(e, &list)
	}
	r.plausibleFindings(&list)
	r.startFindings(&list)
	r.standstillFindings(&list)
	r.logFindings(&list)
	slices.SortStableFunc(list, func(a, b found) int {
		return cmp.Or(
			cmp.Compare(a.Severity.Weight(), b.Severity.Weight()),
			cmp.Compare(slices.Index(findingOrder, a.Code), slices.Index(findingOrder, b.Code)),
			cmp.Compare(a.at, b.at))
	})
	var sorted []analyze.Finding
	for _, f := range list {
		sorted = append(sorted, f.Finding)
	}
	return sorted
}

// found is a finding and when in the log its cause began.
type found struct {
	analyze.Finding
	at int64
}

// Findings are gathered one by one, in any order.
type Findings []found

// add takes a finding; evidence names episodes, standstills or starts and is never
// nil.
func (list *Findings) add(code string, severity analyze.Severity, at int64, evidence []string, about analyze.About) {
	*list = append(*list, found{analyze.Finding{Code: code, Severity: severity, Evidence: evidence, About: about}, at})
}

func evidence(kind string, n int) []string { return []string{kind + " " + strconv.Itoa(n)} }
