package words

import (
	"fmt"
	"strings"

	"lull/decode/marks"
)

// MarkKey is something that can be marked while a drive is recorded: the key that begins
// and ends it, its name in the file of marks, and what people call it.
type MarkKey struct {
	Key         byte
	Name, Title string
}

// MarkKeys are all of them, in the order in which they are shown.
var MarkKeys = []MarkKey{
	{'b', "brake", "brake"},
	{'l', "turn_left", "turn lamp left"},
	{'r', "turn_right", "turn lamp right"},
	{'s', "steering", "steering"},
	{'a', "air_conditioning", "air conditioning"},
	{'c', "cancel_switch", "cancel switch"},
}

// ReadingKey is the key for what the dashboard shows.
const ReadingKey = 'd'

// FindMark returns the mark of a key or name, or false.
func FindMark(word string) (MarkKey, bool) {
	for _, k := range MarkKeys {
		if word == k.Name || word == string(k.Key) {
			return k, true
		}
	}
	return MarkKey{}, false
}

// MarkTitle is what people call a mark.
func MarkTitle(name string) string {
	if k, ok := FindMark(name); ok {
		return k.Title
	}
	return strings.ReplaceAll(name, "_", " ")
}

// MarkKeysText says which keys there are.
func MarkKeysText() string {
	var parts []string
	for _, k := range MarkKeys {
		parts = append(parts, fmt.Sprintf("%c %s", k.Key, k.Title))
	}
	return strings.Join(parts, ", ") + fmt.Sprintf(", %c what the dashboard shows", ReadingKey)
}

// MarkText is a mark that was taken.
func MarkText(m marks.Mark) string {
	if m.HasValue {
		return fmt.Sprintf("%s %s %s at %.1f s", MarkTitle(m.Name), Number(m.Value), m.Unit, m.From)
	}
	return fmt.Sprintf("%s from %.1f to %.1f s", MarkTitle(m.Name), m.From, m.To)
}

// LiveMarks is what is marked in a recording.
type LiveMarks struct {
	File  string     `json:"file"`
	On    []OpenMark `json:"on"`
	Taken []string   `json:"taken"` // the latest first; not all of many
	Count int        `json:"count"` // of all that were taken
	// Keys says that keys are read, and Typed what was typed of what the dashboard shows;
	// Typing is whether that is asked for.
	Keys   bool   `json:"-"`
	Typing bool   `json:"-"`
	Typed  string `json:"-"`
}

// OpenMark is a mark that was begun and not ended.
type OpenMark struct {
	Name string `json:"name"`
	Text string `json:"text"` // "brake since 12.3 s"
}

// NewOpenMark words a mark that was begun.
func NewOpenMark(name string, from float64) OpenMark {
	return OpenMark{name, fmt.Sprintf("%s since %.1f s", MarkTitle(name), from)}
}

// IsOn reports whether a mark is open.
func (l *LiveMarks) IsOn(name string) bool {
	for _, o := range l.On {
		if o.Name == name {
			return true
		}
	}
	return false
}

// Now is what is marked at the moment, in one line.
func (l *LiveMarks) Now() string {
	if len(l.On) == 0 {
		return "marked now: nothing"
	}
	var parts []string
	for _, o := range l.On {
		parts = append(parts, o.Text)
	}
	return "marked now: " + strings.Join(parts, ", ")
}
