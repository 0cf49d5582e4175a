package output

// Style is how text for a person may look.
type Style struct {
	Width   int  // columns
	Colour  bool // ANSI colours on words that carry a verdict
	Unicode bool // lines drawn with more than ASCII
}

// tone is the meaning of a word. It is never the only thing that tells it: the
// word itself does.
type tone int

const (
	neutral tone = iota
	good
	doubtful
	bad
)

var toneCode = map[tone]string{good: "32", doubtful: "33", bad: "1;31"}

// paint colours a word by its meaning.
func (s Style) paint(t tone, word string) string {
	if code := toneCode[t]; s.Colour && code != "" && word != "" {
		return "\x1b[" + code + "m" + word + "\x1b[0m"
	}
	return word
}
