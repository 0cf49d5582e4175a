package onelog

import (
	"maps"
	"slices"

	"lull/analyze"
	"lull/analyze/findings"
	"lull/analyze/measure"
	"lull/decode"
	"lull/pkg/bounds"
)

// Newscast asks a Run for its news again and again. It changes nothing in the Run:
// the Result is the same with and without it.
type Newscast struct {
	r                             *Run
	episodes, standstills, judged int // handed out
	silences                      []bool
	gaps                          int
	doubted                       int64    // when doubts were last looked for
	doubts                        []string // told, by code and signal
}

// NewNewscast begins to ask; everything found before is news.
func NewNewscast(r *Run) *Newscast { return &Newscast{r: r} }

// Next returns the news. It may be called between any two calls of Push and Pass, and
// after Finish for what the log's end brought. It costs time in proportion to the
// episodes and silences so far: some ten times a second is enough.
func (c *Newscast) Next() analyze.News {
	r := c.r
	r.flush()
	var news analyze.News
	ended := slices.Clone(r.Done)
	for _, e := range r.Pending {
		if !e.Settled {
			break // their order is that of the drive
		}
		ended = append(ended, e)
	}
	for ; c.episodes < len(ended); c.episodes++ {
		e := ended[c.episodes].Episode
		e.N = c.episodes + 1
		if !ended[c.episodes].Done {
			r.judgeEarly(&e)
		}
		news.Episodes = append(news.Episodes, e)
	}
	r.numberStandstills()
	var list findings.Findings
	for ; c.judged < len(r.Done); c.judged++ {
		r.EpisodeFindings(r.Done[c.judged], &list)
	}
	c.silent(&list)
	for ; c.standstills < len(r.result.Standstills); c.standstills++ {
		s := &r.result.Standstills[c.standstills]
		news.Standstills = append(news.Standstills, *s)
		r.StandstillFinding(s, &list)
	}
	for ; c.gaps < len(r.result.Gaps); c.gaps++ {
		r.GapFinding(r.result.Gaps[c.gaps], &list)
	}
	for _, f := range list {
		news.Findings = append(news.Findings, f.Finding)
	}
	news.Doubts = c.doubt()
	return news
}

// doubtEvery is how often, in ns, it is asked whether a drive that goes on can be believed:
// other readings of a signal are tried for that.
const doubtEvery = 20 * bounds.Second

// doubt gives grave doubts that were not told. That the engine never ran is none as long
// as it still may.
func (c *Newscast) doubt() []analyze.Doubt {
	r := c.r
	if r.Now < c.doubted+doubtEvery {
		return nil
	}
	c.doubted = r.Now
	r.result.IdleSpeed, r.result.Distance = r.IdleSpeed(), r.sum(&r.sums.distance, decode.VehicleSpeed)
	var list []analyze.Doubt
	for _, d := range r.Finder.Trust().Doubts {
		if key := d.Code + " " + d.Signal; d.Grave && d.Code != analyze.DoubtEngineOff && d.Code != analyze.DoubtNeverSeen && !slices.Contains(c.doubts, key) {
			c.doubts = append(c.doubts, key)
			list = append(list, d)
		}
	}
	return list
}

// silent tells of modules that fell silent in an episode that is measured.
func (c *Newscast) silent(list *findings.Findings) {
	r := c.r
	r.AssignSilences()
	for len(c.silences) < len(r.result.Silences) {
		c.silences = append(c.silences, false)
	}
	fresh := map[int][]analyze.Silence{} // by episode
	for i, s := range r.result.Silences {
		if s.Episode != 0 && !c.silences[i] {
			c.silences[i] = true
			fresh[s.Episode] = append(fresh[s.Episode], s)
		}
	}
	for _, n := range slices.Sorted(maps.Keys(fresh)) {
		r.SilentTogether(r.Done[n-1], fresh[n], list)
	}
}

// judgeEarly judges the limits on what is measured of an episode that still waits
// for its take-off.
func (r *Run) judgeEarly(e *analyze.Episode) {
	e.Metrics = slices.Clone(e.Metrics)
	for i := range measure.Metrics {
		if measure.Metrics[i].Late {
			e.Metrics[i] = measure.Absent(analyze.NotMeasuredYet)
			e.Metrics[i].Key, e.Metrics[i].Unit = measure.Metrics[i].Key, measure.Metrics[i].Unit
		}
	}
	e.Limits = r.Limits(e)
}

// Status tells what the car does.
func (r *Run) Status() analyze.Status {
	s := analyze.Status{Now: r.Now, Engine: r.Engine.Runs(), Measuring: len(r.Pending)}
	if o := r.Open; o != nil {
		stop := o.Stop.Instant
		s.Stop, s.Rests = &stop, o.Rest != nil
	}
	switch {
	case r.Stand != nil:
		start := r.Stand.Start
		s.Stands, s.Standing = analyze.True, &start
	case r.Has(decode.VehicleSpeed):
		s.Stands = analyze.False
	}
	return s
}
