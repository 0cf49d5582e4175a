package table

import "lull/cmd/lull/internal/words"

// Style says how text for a person may look.
type Style struct {
	Width   int  // columns
	Colour  bool // ANSI colours on words that carry a verdict
	Unicode bool // lines drawn with more than ASCII
}

var toneCode = map[words.Tone]string{words.Good: "32", words.Doubtful: "33", words.Bad: "1;31"}

// paint colours a word by its meaning.
func (s Style) paint(w words.Word) string {
	if code := toneCode[w.Tone]; s.Colour && code != "" && w.Text != "" {
		return "\x1b[" + code + "m" + w.Text + "\x1b[0m"
	}
	return w.Text
}
