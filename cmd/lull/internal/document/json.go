package document

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"unicode/utf8"

	"lull/analyze"
	"lull/cmd/lull/internal/words"
)

// WriteJSON writes the whole document, indented.
func WriteJSON(w io.Writer, r *words.Report, kind words.Kind) error {
	d := document{
		head: headOf(r.Version),
		Map:  mapOf(r.Map),
		Logs: []any{},
	}
	b := builder{r.Map}
	for i := range r.Logs {
		l := &r.Logs[i]
		head, tail := b.head(l), b.tail(l.Result)
		if kind == words.Standstills {
			d.Logs = append(d.Logs, logStandstills{head, tail})
			continue
		}
		d.Logs = append(d.Logs, logEpisodes{
			logHead:  head,
			Episodes: each(l.Result.Episodes, func(e analyze.Episode) episodeJSON { return b.episode(&e) }),
			logTail:  tail,
		})
	}
	return writeIndented(w, d)
}

// writeIndented writes one JSON document with a line for each key.
func writeIndented(w io.Writer, v any) error {
	flat, err := marshal(v)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := json.Indent(&b, flat, "", "  "); err != nil {
		return err
	}
	b.WriteByte('\n')
	_, err = w.Write(harmless(b.Bytes()))
	return err
}

// WriteNDJSON writes one line of JSON for each episode or standstill, with the
// name of its log.
func WriteNDJSON(w io.Writer, r *words.Report, kind words.Kind) error {
	b := builder{r.Map}
	var out bytes.Buffer
	add := func(v any) error {
		line, err := marshal(v)
		if err != nil {
			return err
		}
		out.Write(harmless(line))
		out.WriteByte('\n')
		return nil
	}
	for i := range r.Logs {
		l := &r.Logs[i]
		if kind == words.Standstills {
			for k := range l.Result.Standstills {
				if err := add(struct {
					Log string `json:"log"`
					standstillJSON
				}{l.Name, b.standstill(&l.Result.Standstills[k])}); err != nil {
					return err
				}
			}
			continue
		}
		for k := range l.Result.Episodes {
			if err := add(struct {
				Log string `json:"log"`
				episodeJSON
			}{l.Name, b.episode(&l.Result.Episodes[k])}); err != nil {
				return err
			}
		}
	}
	_, err := w.Write(out.Bytes())
	return err
}

// marshal is json.Marshal that leaves < > & readable.
func marshal(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimRight(b.Bytes(), "\n"), nil
}

// harmless escapes what JSON allows in a string but a terminal would obey: DEL, the C1
// controls, bidirectional and invisible format characters. Whoever reads the JSON gets the
// same text, as such characters occur in strings only.
func harmless(text []byte) []byte {
	risky := false
	for i := 0; i < len(text); i++ {
		if text[i] >= 0x7F {
			risky = true
			break
		}
	}
	if !risky {
		return text
	}
	out := make([]byte, 0, len(text)+16)
	for len(text) > 0 {
		r, n := utf8.DecodeRune(text)
		switch {
		case r == '\n' || !words.Steers(r):
			out = append(out, text[:n]...)
		case r > 0xFFFF:
			r -= 0x10000
			out = fmt.Appendf(out, `\u%04x\u%04x`, 0xD800+r>>10, 0xDC00+r&0x3FF)
		default:
			out = fmt.Appendf(out, `\u%04x`, r)
		}
		text = text[n:]
	}
	return out
}
