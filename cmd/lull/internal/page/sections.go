package page

import (
	"fmt"
	"slices"
	"strings"

	"lull/analyze"
	"lull/analyze/compare"
	"lull/analyze/measure"
	"lull/cmd/lull/internal/picture"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
)

// Sections are what follows the sheet in a full report: the answer in full, the episodes and
// standstills in which something was wrong, then of each log what is plain, as rows, and what
// all of it is based on.
func (r *Report) Sections() []Section {
	list := append(r.shortened(), r.Answer())
	var figures *Section
	if r.Comparison != nil {
		var changed *Section
		changed, figures = r.Changes()
		list = append(list, *changed)
	}
	sides := []struct {
		*Side
		prefix string
		named  bool
	}{{&r.After, "", len(r.After.Logs) > 1}, {r.Before, "before: ", true}}
	if r.Before == nil {
		sides = sides[:1]
	}
	for _, s := range sides {
		for i := range s.Logs {
			if !s.Logs[i].Result.Usable() {
				continue
			}
			suffix := s.suffix(i, s.prefix, s.named)
			list = append(list, s.cards(r.appended(s.Side, i), i, suffix, false)...)
		}
	}
	for _, s := range sides {
		for i := range s.Logs {
			suffix := s.suffix(i, s.prefix, s.named)
			list = append(list, s.Drive(i, suffix), s.table(i, suffix))
			if !s.Logs[i].Result.Usable() {
				continue
			}
			list = append(list, s.standstills(i, suffix))
			list = append(list, s.cards(r.appended(s.Side, i), i, suffix, true)...)
		}
	}
	list = append(list, r.Coverage()...)
	if figures != nil {
		figures.Level = 2
		list = append(list, *figures)
	}
	method := r.Method()
	return append(list, method[:len(method)-1]...) // the cautions are on the sheet
}

// shortened has in full what the user said of the job, where the sheet had no room for it.
func (r *Report) shortened() []Section {
	var items []Item
	for _, f := range Fields {
		if text := *f.Of(&r.Job); within(text, f.room()) != text {
			items = append(items, Item{Term: f.Label, Text: text})
		}
	}
	if len(items) == 0 {
		return nil
	}
	return []Section{harmless(Section{Title: "The job", Level: 2, Blocks: []Block{{List: items}}})}
}

func (side *Side) suffix(i int, prefix string, named bool) string {
	if !named {
		return ""
	}
	return side.Suffix(i, prefix)
}

// cards are those of a log's episodes and standstills that are drawn: what is plain, or what
// stands out.
func (side *Side) cards(d Drawn, i int, suffix string, plain bool) []Section {
	var list []Section
	for _, k := range d.Episodes {
		if side.Plain(&side.Logs[i], k) == plain {
			list = append(list, side.Episode(i, k, suffix))
		}
	}
	for _, k := range d.Standstills {
		if side.Logs[i].Result.Standstills[k].RanOn() && side.standsOut(i, k) != plain {
			list = append(list, side.Standstill(i, k, suffix))
		}
	}
	return list
}

// harmless escapes, in all text of a section, characters that act instead of being shown.
// Every section that leaves the package has gone through it.
func harmless(s Section) Section {
	clean := func(text *string) { *text = words.VisibleBlock(*text) }
	clean(&s.Title)
	for i := range s.Blocks {
		b := &s.Blocks[i]
		clean(&b.Paragraph)
		for k := range b.List {
			clean(&b.List[k].Term)
			clean(&b.List[k].Text)
		}
		if b.Grid == nil {
			continue
		}
		for k := range b.Grid.Columns {
			clean(&b.Grid.Columns[k].Title)
		}
		for _, row := range b.Grid.Rows {
			for k := range row {
				clean(&row[k].Text)
			}
		}
	}
	return s
}

// Answer returns the result in words.
func (r *Report) Answer() Section {
	s := Section{ID: "answer", Title: "The answer", Level: 2}
	if r.Comparison != nil {
		sentences := r.Comparison.Answer()
		lead := min(2, len(sentences)) // what was wrong, and what became of it
		for _, text := range sentences[:lead] {
			s.Blocks = append(s.Blocks, Block{Paragraph: text, Strong: true})
		}
		var items []Item
		for _, text := range sentences[lead:] {
			items = append(items, Item{Text: text})
		}
		if len(items) > 0 {
			s.Blocks = append(s.Blocks, Block{List: items})
		}
		s.Blocks = append(s.Blocks, paragraph(words.CompareLegend), paragraph("After: "+r.After.Answer()), paragraph("Before: "+r.Before.Answer()),
			paragraph(words.FiguresLegend))
	} else {
		if doubts := r.After.TrustText(); doubts != "" {
			s.Blocks = append(s.Blocks, Block{Paragraph: doubts, Strong: true, Tone: words.TrustTone(r.After.Credence())})
		}
		if found := r.After.Findings(); found != "" {
			s.Blocks = append(s.Blocks, Block{Paragraph: found, Strong: true})
		}
		if legend := r.After.Legend(); legend != "" {
			s.Blocks = append(s.Blocks, paragraph(legend))
		}
	}
	return harmless(s)
}

// Suffix returns what headings name a log by.
func (side *Side) Suffix(i int, prefix string) string {
	return ", " + prefix + words.Visible(side.Logs[i].Name)
}

// Drive returns the overview of a log and its findings.
func (side *Side) Drive(i int, suffix string) Section {
	l := &side.Logs[i]
	s := Section{Title: "The drive" + suffix, Level: 2}
	s.Blocks = append(s.Blocks, paragraph(l.Headline()))
	if l.Result.Usable() {
		s.Blocks = append(s.Blocks, figure(func(width float64) picture.Drawing {
			return picture.Drive(side.Map, l.Result, side.Traces[i].Drive, width)
		}))
	}
	if texts := words.FindingLines(l.Result.Findings); len(texts) > 0 {
		var items []Item
		for _, f := range texts {
			v := Item{Term: string(f.Severity), Text: f.Text}
			if f.Severity == analyze.Attention {
				v.Tone = words.Bad
			}
			items = append(items, v)
		}
		s.Blocks = append(s.Blocks, paragraph("Findings"), Block{List: items})
	}
	return harmless(s)
}

// gridOr returns a table of n rows, or the sentence for none.
func gridOr(n int, grid func() table.Grid, none string) Block {
	if n == 0 {
		return paragraph(none)
	}
	g := grid()
	return Block{Grid: &g}
}

// table lists a log's episodes.
func (side *Side) table(i int, suffix string) Section {
	l := &side.Logs[i]
	s := Section{Title: "Episodes" + suffix, Level: 2}
	if !l.Result.Usable() {
		s.Blocks = []Block{paragraph(words.Sentence(words.NotShown(l.Result)))}
		return harmless(s)
	}
	s.Blocks = append(s.Blocks, gridOr(len(l.Result.Episodes), func() table.Grid { return table.EpisodeGrid(side.Report, l.Result) }, "No episode."))
	return harmless(s)
}

// standstills lists a log's standstills.
func (side *Side) standstills(i int, suffix string) Section {
	l := &side.Logs[i]
	s := Section{Title: "Standstills" + suffix, Level: 2}
	s.Blocks = append(s.Blocks, gridOr(len(l.Result.Standstills), func() table.Grid { return table.StandstillGrid(side.Report, l.Result) }, "No standstill."))
	return harmless(s)
}

// Standstill returns the card of one standstill: its story in order of time, why the engine
// was not stopped, and its picture if it has one.
func (side *Side) Standstill(i, k int, suffix string) Section {
	res := side.Logs[i].Result
	v := &res.Standstills[k]
	s := Section{Title: fmt.Sprintf("Standstill at %s s: %s%s", words.Moment(v.Start), words.StandstillWord(side.Map, res, v).Text, suffix), Level: 3, Card: true}
	s.Blocks = append(s.Blocks, Block{List: listed(words.StandstillStory(side.Map, res, v))})
	if traces, ok := side.Traces[i].Standstills[k]; ok {
		s.Blocks = append(s.Blocks, figure(func(width float64) picture.Drawing {
			return picture.Standstill(side.Map, res, v, traces, width)
		}))
	}
	return harmless(s)
}

// Episode returns the card of one episode: its story in order of time, its picture and what
// was measured.
func (side *Side) Episode(i, k int, suffix string) Section {
	l := &side.Logs[i]
	e := &l.Result.Episodes[k]
	s := Section{Title: fmt.Sprintf("Episode %d: %s%s", e.N, words.OutcomeWord(e).Text, suffix), Level: 3, Card: true}
	s.Blocks = append(s.Blocks, Block{List: listed(words.Story(side.Map, e))})
	s.Blocks = append(s.Blocks, figure(func(width float64) picture.Drawing {
		return picture.Episode(side.Map, l.Result, e, side.Traces[i].Episodes[k], width)
	}))
	g := table.Grid{Columns: []table.Column{{Title: "measured"}, {Title: "value", Rank: 1}, {Title: "limit", Rank: 2}}}
	var missing []string
	for _, m := range e.Metrics {
		text, ok := words.MetricText(m)
		if !ok {
			missing = append(missing, words.Spoken(m.Key)+": "+text)
			continue
		}
		verdict := words.Word{}
		for _, v := range e.Limits {
			if v.Limit.Metric == m.Key {
				verdict = words.LimitWord(v, m.Unit)
			}
		}
		g.Rows = append(g.Rows, []words.Word{{Text: words.Spoken(m.Key)}, {Text: text}, verdict})
	}
	if len(g.Rows) > 0 {
		s.Blocks = append(s.Blocks, Block{Grid: &g})
	}
	if len(missing) > 0 {
		s.Blocks = append(s.Blocks, paragraph("Not measured: "+strings.Join(missing, "; ")+"."))
	}
	for _, note := range e.Notes {
		s.Blocks = append(s.Blocks, paragraph("Note: "+words.Visible(words.NoteText(note))))
	}
	return harmless(s)
}

// Changes returns the comparison in two parts: what changed, as pictures, and all figures.
func (r *Report) Changes() (changed, figures *Section) {
	shown := func(v compare.Verdict) bool { return v == compare.Better || v == compare.Worse || v == compare.Changed }
	c := r.withValues(Section{ID: "comparison", Title: "Before and after", Level: 2}, shown)
	if len(c.Blocks) == 0 {
		c.Blocks = append(c.Blocks, paragraph("No metric shows a change."))
	}
	f := r.withValues(Section{Title: "All figures, before and after", Level: 3, Blocks: r.comparedFigures()}, func(v compare.Verdict) bool { return !shown(v) })
	c, f = harmless(c), harmless(f)
	return &c, &f
}

// comparedFigures returns the tables of a comparison, and how they were computed.
func (r *Report) comparedFigures() []Block {
	var all compare.Group
	for i := range r.Comparison.Groups {
		g := &r.Comparison.Groups[i]
		all.Metrics, all.Rates = append(all.Metrics, g.Metrics...), append(all.Rates, g.Rates...)
	}
	metrics, rates := table.MetricGrid(all.Metrics), table.RateGrid(all.Rates)
	blocks := []Block{{Grid: &metrics}}
	if len(rates.Rows) > 0 {
		blocks = append(blocks, Block{Grid: &rates})
	}
	var items []Item
	for _, text := range r.Comparison.Remarks() {
		items = append(items, Item{Text: text})
	}
	if len(items) > 0 {
		blocks = append(blocks, Block{List: items})
	}
	return append(blocks, paragraph(words.CompareMethod))
}

// withValues adds pictures of every value of the metrics whose verdict is wanted.
func (r *Report) withValues(s Section, wanted func(compare.Verdict) bool) Section {
	var rows []picture.SidesRow
	for _, g := range r.Comparison.Groups {
		for _, m := range g.Metrics {
			if m.Verdict == compare.Missing || !wanted(m.Verdict) {
				continue
			}
			scale := r.Comparison.ScaleOf(m)
			rows = append(rows, picture.SidesRow{Name: words.Spoken(m.Key), Unit: m.Unit, Low: scale.Low, High: scale.High, Limits: scale.Limits,
				Before: m.Before.Values, After: m.After.Values, Note: words.ShiftText(m) + ": " + string(m.Verdict)})
		}
	}
	if len(rows) > 0 {
		s.Blocks = append(s.Blocks, paragraph("Each mark is the value of one episode; the upright line is the median, the box the middle half, the broken line the limit of the map."))
	}
	for some := range slices.Chunk(rows, 3) { // a page can hold each
		s.Blocks = append(s.Blocks, figure(func(width float64) picture.Drawing { return picture.Sides(some, width) }))
	}
	return s
}

// Coverage returns what was tried, and the account of the starter.
func (r *Report) Coverage() []Section {
	return append([]Section{r.tried()}, r.starter()...)
}

func (r *Report) tried() Section {
	s := Section{ID: "coverage", Title: "Covered on the road", Level: 2}
	var items []Item
	for _, text := range r.After.Tried() {
		items = append(items, Item{Text: text})
	}
	if len(items) == 0 {
		text := "The map names no conditions, so nothing can be said of what was covered."
		if r.After.Credence() == analyze.Unusable {
			text = "Of a drive that cannot be used nothing can be said of what was covered."
		}
		s.Blocks = append(s.Blocks, paragraph(text))
		return harmless(s)
	}
	s.Blocks = append(s.Blocks, Block{List: items})
	return harmless(s)
}

func (r *Report) starter() []Section {
	operations := 0
	for i := range r.After.Logs {
		if !r.After.Logs[i].Result.Usable() {
			return nil // what was counted may be wrong
		}
		operations += r.After.Logs[i].Result.Summary.StarterOperations
	}
	if operations == 0 {
		return nil
	}
	return []Section{{ID: "starter", Title: "Starter operations", Level: 2, Blocks: []Block{
		paragraph(words.NewStarterReport(r.After.Report).Answer()),
		paragraph(words.StarterCaution),
	}}}
}

// Method says where the figures come from: map, logs, thresholds, words, cautions.
func (r *Report) Method() []Section {
	s := Section{ID: "measured", Title: "How it was measured", Level: 2}
	items := []Item{{Term: "lull", Text: r.After.Version}, {Term: "Map", Text: words.MapText(r.After.Map)}}
	if r.Before != nil && r.Before.Map.SHA256 != r.After.Map.SHA256 {
		items = append(items, Item{Term: "Map before", Text: words.MapText(r.Before.Map)})
	}
	if notes := words.Visible(r.After.Map.Notes); notes != "" {
		items = append(items, Item{Term: "Notes of the map", Text: notes})
	}
	add := func(side *Side, term string) {
		for i := range side.Logs {
			l := &side.Logs[i]
			items = append(items, Item{Term: term, Text: fmt.Sprintf("%s, %d bytes, sha256 %s", words.Visible(l.Name), l.Bytes, l.SHA256)})
			for _, m := range l.Result.Info.Remarks {
				items = append(items, Item{Term: "Remark", Text: words.Visible(l.Name + ": " + m.Text)})
			}
		}
	}
	add(&r.After, "Log")
	if r.Before != nil {
		add(r.Before, "Log before")
	}
	s.Blocks = append(s.Blocks, Block{List: items},
		paragraph("Bounds in brackets say between which values a figure must lie, because the bus tells a value only when it sends it. "+
			"They speak of what was on the bus; the delay inside the module that sent it is not known. Times are in s from a log's first frame. "+
			"Pictures show the highest and lowest sample of every stretch as wide as a dot; none is lost."))
	thresholds := Section{Title: "Thresholds", Level: 3, Blocks: []Block{{List: listed(words.Thresholds(r.After.Map.Settings))}}}
	var limits []Item
	for _, l := range r.After.Map.Limits {
		unit := ""
		if m, ok := measure.MetricByKey(l.Metric); ok {
			unit = m.Unit
		}
		limits = append(limits, Item{Term: words.Spoken(l.Metric), Text: words.LimitWords(l, unit)})
	}
	if len(limits) > 0 {
		thresholds.Blocks = append(thresholds.Blocks, paragraph("Limits of the map"), Block{List: limits})
	}
	metrics := Section{Title: "What each figure is", Level: 3, Blocks: []Block{{List: listed(words.Definitions())}}}
	terms := Section{Title: "Words", Level: 3, Blocks: []Block{{List: listed(words.Glossary)}}}
	list := []Section{s, thresholds, metrics, terms, cautions()}
	for i := range list {
		list[i] = harmless(list[i])
	}
	return list
}

func cautions() Section {
	return Section{ID: "cautions", Title: "Cautions", Level: 2, Blocks: []Block{{List: []Item{
		{Text: words.Caution},
		{Text: "It can roll, and it can hurt someone at an open bonnet. Secure the car and make it unable to start before you open it."},
		{Text: "A log shows what was on the bus. It judges no car and names no part: the maker's procedure, local rules and the judgement of licensed practice come first."},
	}}}}
}

// listed returns entries as the lines of a list.
func listed(entries []words.Entry) []Item {
	list := make([]Item, len(entries))
	for i, e := range entries {
		list[i] = Item{Term: e.Term, Text: e.Text}
	}
	return list
}
