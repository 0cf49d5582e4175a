package words

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"lull/analyze"
)

// FindingLine is one finding, or several of one kind, as a person reads them.
type FindingLine struct {
	Severity analyze.Severity
	Text     string
}

// tokens are the words and figures of a text; a figure stands by itself, beside names and what is quoted, which may hold
// digits of their own.
var (
	tokens = regexp.MustCompile(`"[^"]*"|[\pL\pN_.-]+`)
	figure = regexp.MustCompile(`^-?[0-9]+(\.[0-9]+)?\.?$`)
)

// shape is a text without its figures.
func shape(text string) string {
	return tokens.ReplaceAllStringFunc(text, func(token string) string {
		if figure.MatchString(token) {
			return "#"
		}
		return token
	})
}

// FindingLines gathers findings that differ in their figures only: the first in
// full, then how many more there are and where.
func FindingLines(findings []analyze.Finding) []FindingLine {
	kinds := map[string][]int{}
	kindOf := func(f *analyze.Finding) string {
		return f.Code + "|" + string(f.Severity) + "|" + shape(f.Text)
	}
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
		text := Visible(f.Text)
		if evidence := together(f.Evidence); evidence != "" && !strings.Contains(f.Text, evidence) && !namesAll(f) {
			text += " (" + Visible(evidence) + ")"
		}
		var others []string
		for _, k := range same[1:] {
			others = append(others, findings[k].Evidence...)
		}
		if len(same) > 1 {
			text += fmt.Sprintf("; %d more like it", len(same)-1)
			if len(others) > 0 {
				text += ": " + Visible(together(others))
			}
		}
		lines = append(lines, FindingLine{f.Severity, text})
	}
	return lines
}

// namesAll tells whether a finding's text names all its evidence, one by one.
func namesAll(f *analyze.Finding) bool {
	return !slices.ContainsFunc(f.Evidence, func(name string) bool { return !strings.Contains(f.Text, name) })
}

// together joins references such as "episode 2" and "episode 3" to "episodes 2, 3"
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
	return kind + "s " + strings.Join(numbers, ", ")
}
