package words

import (
	"math"
	"strconv"
	"strings"

	"lull/analyze/measure"
	"lull/pkg/bounds"
	"lull/pkg/stats"
	"lull/pkg/units"
)

// Spoken turns a key such as restart_latency into words.
func Spoken(key string) string {
	if m, ok := measure.MetricByKey(key); ok && m.Name != "" {
		return m.Name
	}
	return strings.ReplaceAll(key, "_", " ")
}

// Times says how often: "once", "3 times".
func Times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return strconv.Itoa(n) + " times"
}

// ordinal says which in a row: "second", "4th".
func ordinal(n int) string {
	switch n {
	case 2:
		return "second"
	case 3:
		return "third"
	}
	ending := "th"
	switch {
	case n%100 >= 11 && n%100 <= 13:
	case n%10 == 1:
		ending = "st"
	case n%10 == 2:
		ending = "nd"
	case n%10 == 3:
		ending = "rd"
	}
	return strconv.Itoa(n) + ending
}

// list joins parts to "a, b and c".
func list(parts []string) string { return enumerated(parts, "and") }

func enumerated(parts []string, last string) string {
	if len(parts) < 2 {
		return strings.Join(parts, "")
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " " + last + " " + parts[len(parts)-1]
}

// Sentence is a text as a sentence by itself, or as the question that it is.
func Sentence(s string) string {
	if strings.HasSuffix(s, "?") {
		return sentenceCase(s)
	}
	return sentenceCase(s) + "."
}

func sentenceCase(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// Number writes a number that has no bounds, to four significant digits.
func Number(v float64) string { return units.Round(v, v, v) }

// Fixed writes a number with d decimals and never as a negative zero.
func Fixed(v float64, d int) string {
	s := strconv.FormatFloat(v, 'f', d, 64)
	if strings.HasPrefix(s, "-") && strings.Trim(s, "-0.") == "" {
		return s[1:]
	}
	return s
}

// Shortest returns the shortest decimal that reads back as the same float64, "" if v is not
// finite.
func Shortest(v float64) string {
	if !stats.Finite(v) {
		return ""
	}
	return string(AppendNumber(nil, v))
}

// AppendNumber writes the shortest decimal, with an exponent only where the
// number is very small or large.
func AppendNumber(out []byte, v float64) []byte {
	format := byte('f')
	if a := math.Abs(v); a != 0 && (a < 1e-6 || a >= 1e21) {
		format = 'e'
	}
	return strconv.AppendFloat(out, v, format, -1, 64)
}

// Moment writes an instant in seconds to the hundredth: enough to find it in a
// log, and CSV has the rest.
func Moment(i bounds.Instant) string { return Fixed(bounds.Seconds(i.T), 2) }

// Length writes how long something lasted, in seconds.
func Length(from, to bounds.Instant) string {
	return Fixed(bounds.Sub(to, from).Best, 1)
}

// Percent formats a share. Only none is 0 % and only all is 100 %.
func Percent(share float64) string {
	switch p := share * 100; {
	case p > 0 && p < 1:
		return "<1 %"
	case p < 100 && p > 99:
		return ">99 %"
	default:
		return Fixed(p, 0) + " %"
	}
}

// joined joins the words of every element of a list.
func joined[A any](elements []A, separator string, word func(A) string) string {
	parts := make([]string, len(elements))
	for i, e := range elements {
		parts[i] = word(e)
	}
	return strings.Join(parts, separator)
}
