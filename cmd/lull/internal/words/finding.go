package words

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"lull/analyze"
	"lull/pkg/bounds"
)

// FindingLine is one finding, or several of one kind, as a person reads them.
type FindingLine struct {
	Severity analyze.Severity
	Failure  bool     // a start that failed, or a stall
	About    []string // in the fewest words, as parts of a sentence
	Text     string
}

// kindOf is what findings that are told as one have in common.
func kindOf(f *analyze.Finding) string {
	return fmt.Sprintf("%s %s %T %q", f.Code, f.Severity, f.About, f.About.Names())
}

// FindingLines gathers findings that differ in their values only: of limits the worst
// value, of others the first in full, and then how many more there are and where.
func FindingLines(findings []analyze.Finding) []FindingLine {
	kinds := map[string][]int{}
	for i := range findings {
		kind := kindOf(&findings[i])
		kinds[kind] = append(kinds[kind], i)
	}
	var lines []FindingLine
	for i := range findings {
		f := &findings[i]
		same := kinds[kindOf(f)]
		if same[0] != i {
			continue
		}
		if _, limits := f.About.(analyze.BrokenLimits); limits && len(same) > 1 {
			lines = append(lines, FindingLine{Severity: f.Severity, About: FindingAbout(f), Text: Visible(brokenInAll(findings, same))})
			continue
		}
		_, failed := f.About.(analyze.FailedStart)
		sentence := FindingText(f)
		text := Visible(sentence)
		if evidence := together(evidenceOf(f)); evidence != "" && !strings.Contains(sentence, evidence) && !namesAll(sentence, evidenceOf(f)) {
			text += " (" + Visible(evidence) + ")"
		}
		var others []string
		for _, k := range same[1:] {
			others = append(others, evidenceOf(&findings[k])...)
		}
		if len(same) > 1 {
			if len(others) > 0 {
				text += "; also in " + Visible(together(others))
			} else {
				text += "; the same " + Times(len(same)-1) + " more"
			}
		}
		lines = append(lines, FindingLine{f.Severity, failed, FindingAbout(f), text})
	}
	return lines
}

// evidenceOf is what a finding refers to, as people tell it apart: standstills and starts
// by their times, as only episodes have numbers in what they read.
func evidenceOf(f *analyze.Finding) []string {
	start := int64(0)
	switch a := f.About.(type) {
	case analyze.DoubtedInhibits:
		start = a.Start
	case analyze.HiddenStop:
		start = a.Start
	case analyze.UnexplainedStandstill:
		start = a.Start
	case analyze.RetriedStart:
		return []string{"start by key at " + Moment(bounds.At(a.At)) + " s"}
	default:
		return f.Evidence
	}
	return []string{"standstill at " + Moment(bounds.At(start)) + " s"}
}

// namesAll reports whether a sentence names all evidence, one by one.
func namesAll(sentence string, evidence []string) bool {
	return !slices.ContainsFunc(evidence, func(name string) bool { return !strings.Contains(sentence, name) })
}

// together joins references such as "episode 2" and "episode 3" to "episodes 2 and 3"
// where all are of one kind.
func together(references []string) string {
	if len(references) == 0 {
		return ""
	}
	kind, _, _ := strings.Cut(references[0], " ")
	numbers := make([]string, 0, len(references))
	for _, r := range references {
		before, number, ok := strings.Cut(r, " ")
		if !ok || before != kind || len(references) == 1 {
			return strings.Join(references, ", ")
		}
		numbers = append(numbers, number)
	}
	return kind + "s " + spans(numbers)
}

// spans writes numbers in a row as "2 to 10", with what stands beside them.
func spans(numbers []string) string {
	var parts []string
	for i := 0; i < len(numbers); {
		k := i
		for k+1 < len(numbers) && follows(numbers[k], numbers[k+1]) {
			k++
		}
		switch {
		case k-i >= 2:
			parts = append(parts, numbers[i]+" to "+numbers[k])
		default:
			parts = append(parts, numbers[i:k+1]...)
		}
		i = k + 1
	}
	return list(parts)
}

func follows(a, b string) bool {
	n, errA := strconv.Atoi(a)
	m, errB := strconv.Atoi(b)
	return errA == nil && errB == nil && m == n+1
}
