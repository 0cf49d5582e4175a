package analyze

import (
	"maps"
	"slices"

	"lull/decode"
	"lull/pkg/bounds"
)

// News is what a Run found since it was asked last: what a person who watches the
// drive wants to know at once. The Result says the same and more.
type News struct {
	// Episodes that ended, two seconds after the engine ran again, when all of
	// them but the take-off is measured. They have the numbers that the Result gives
	// them; limits on what is not measured yet are not judged.
	Episodes    []Episode
	Standstills []Standstill
	// Findings on episodes, standstills and gaps. Modules that fell silent together
	// are told one by one where they come back one by one. Findings about the log as
	// a whole are in the Result alone.
	Findings []Finding
}

// Newscast asks a Run for its news again and again. It changes nothing in the Run:
// the Result is the same with and without it.
type Newscast struct {
	r                             *Run
	episodes, standstills, judged int // handed out
	silences                      []bool
	gaps                          int
}

// NewNewscast begins to ask; everything found before is news.
func NewNewscast(r *Run) *Newscast { return &Newscast{r: r} }

// Next gives the news. It may be called between any two calls of Push and Pass, and
// after Finish for what the log's end brought. It costs time in proportion to the
// episodes and silences so far: some ten times a second is enough.
func (c *Newscast) Next() News {
	r := c.r
	var news News
	ended := slices.Clone(r.done)
	for _, e := range r.pending {
		if !e.settled {
			break // their order is that of the drive
		}
		ended = append(ended, e)
	}
	for ; c.episodes < len(ended); c.episodes++ {
		e := ended[c.episodes].Episode
		e.N = c.episodes + 1
		if !ended[c.episodes].done {
			r.judgeEarly(&e)
		}
		news.Episodes = append(news.Episodes, e)
	}
	r.numberStandstills()
	var list findings
	for ; c.judged < len(r.done); c.judged++ {
		r.episodeFindings(r.done[c.judged], &list)
	}
	c.silent(&list)
	for ; c.standstills < len(r.result.Standstills); c.standstills++ {
		s := &r.result.Standstills[c.standstills]
		news.Standstills = append(news.Standstills, *s)
		r.standstillFinding(s, &list)
	}
	for ; c.gaps < len(r.result.Gaps); c.gaps++ {
		r.gapFinding(r.result.Gaps[c.gaps], &list)
	}
	for _, f := range list {
		news.Findings = append(news.Findings, f.Finding)
	}
	return news
}

// silent tells of modules that fell silent in an episode that is measured.
func (c *Newscast) silent(list *findings) {
	r := c.r
	r.assignSilences()
	for len(c.silences) < len(r.result.Silences) {
		c.silences = append(c.silences, false)
	}
	fresh := map[int][]Silence{} // by episode
	for i, s := range r.result.Silences {
		if s.Episode != 0 && !c.silences[i] {
			c.silences[i] = true
			fresh[s.Episode] = append(fresh[s.Episode], s)
		}
	}
	for _, n := range slices.Sorted(maps.Keys(fresh)) {
		r.silentTogether(r.done[n-1], fresh[n], list)
	}
}

// judgeEarly judges the limits on what is measured of an episode that still waits
// for its take-off.
func (r *Run) judgeEarly(e *Episode) {
	e.Metrics = slices.Clone(e.Metrics)
	for i := range Metrics {
		if Metrics[i].late {
			e.Metrics[i] = absent("not measured yet")
			e.Metrics[i].Key, e.Metrics[i].Unit = Metrics[i].Key, Metrics[i].Unit
		}
	}
	e.Limits = r.limits(e)
}

// Status is what the car does, as far as its frames told by now.
type Status struct {
	Now int64 // ns from the first frame

	Engine Truth // runs
	// Stop is the onset of the stop that nothing ended yet, nil where there is none.
	Stop *bounds.Instant
	// Rests tells that the engine came to rest in it.
	Rests bool
	// Stands tells whether the vehicle stands; Standing since when, where it does.
	Stands   Truth
	Standing *bounds.Instant
	// Measuring is how many ended episodes wait for their last samples.
	Measuring int
}

// Status tells what the car does.
func (r *Run) Status() Status {
	s := Status{Now: r.now, Engine: r.engine.runs(), Measuring: len(r.pending)}
	if o := r.open; o != nil {
		stop := o.Stop.Instant
		s.Stop, s.Rests = &stop, o.Rest != nil
	}
	switch {
	case r.stand != nil:
		start := r.stand.start
		s.Stands, s.Standing = True, &start
	case r.has(decode.VehicleSpeed):
		s.Stands = False
	}
	return s
}
