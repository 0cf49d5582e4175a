package document

import (
	"bufio"
	"io"
	"strconv"
	"strings"

	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// SampleWriter writes decoded samples as they come, as CSV or as one JSON object
// a line, in bounded memory.
type SampleWriter struct {
	w       *bufio.Writer
	m       *decode.Map
	ndjson  bool
	log     string
	buses   map[string]string // encoded names
	signals []sampleSignal
	line    []byte
}

// sampleSignal is the part of a signal's rows that never changes, already encoded.
type sampleSignal struct {
	frame, name, unit string
	labels            map[int64]string
}

// NewSampleWriter starts a stream. For CSV it writes the header at once.
func NewSampleWriter(w io.Writer, m *decode.Map, ndjson bool) *SampleWriter {
	s := &SampleWriter{w: bufio.NewWriterSize(w, 1<<16), m: m, ndjson: ndjson, buses: map[string]string{}}
	frames := words.FrameLabels(m)
	for i := range m.Signals {
		signal := &m.Signals[i]
		x := sampleSignal{frame: s.encode(frames[signal.Entry]), name: s.encode(signal.Name), unit: s.encode(signal.Unit)}
		if len(signal.Labels) > 0 {
			x.labels = make(map[int64]string, len(signal.Labels))
			for _, l := range signal.Labels {
				x.labels[l.Raw] = s.encode(l.Text)
			}
		}
		s.signals = append(s.signals, x)
	}
	if !ndjson {
		s.w.WriteString("log,t,bus,frame,signal,value,unit,label\n")
	}
	return s
}

func (s *SampleWriter) encode(v string) string {
	if s.ndjson {
		j, err := marshal(v)
		if err != nil { // a string always has a JSON form
			return `""`
		}
		return string(harmless(j))
	}
	v = text(v)
	if v == "" || !strings.ContainsAny(v, ",\"\r\n") && v[0] != ' ' {
		return v
	}
	return `"` + strings.ReplaceAll(v, `"`, `""`) + `"`
}

// Begin names the log that the next samples come from.
func (s *SampleWriter) Begin(log string) { s.log = s.encode(log) }

// Write writes one sample, t nanoseconds from the first frame. digits is the number of
// decimals of the log's time stamps, 0 if it has none. The value of an invalid sample is
// empty.
func (s *SampleWriter) Write(sample *decode.Sample, bus string, t int64, digits int) error {
	b, ok := s.buses[bus]
	if !ok {
		b = s.encode(bus)
		if len(s.buses) < 1024 { // bounded, as a log of garbage may name any number
			s.buses[strings.Clone(bus)] = b
		}
	}
	x := &s.signals[sample.Signal]
	if s.ndjson {
		s.line = s.object(s.line[:0], x, sample, b, t, digits)
	} else {
		s.line = s.row(s.line[:0], x, sample, b, t, digits)
	}
	_, err := s.w.Write(s.line)
	return err
}

func (s *SampleWriter) row(out []byte, x *sampleSignal, sample *decode.Sample, bus string, t int64, digits int) []byte {
	out = append(append(out, s.log...), ',')
	if digits > 0 {
		out = appendStamp(out, t, digits)
	}
	out = append(append(append(out, ','), bus...), ',')
	out = append(append(out, x.frame...), ',')
	out = append(append(out, x.name...), ',')
	if sample.Valid {
		out = words.AppendNumber(out, sample.Value)
	}
	out = append(append(append(out, ','), x.unit...), ',')
	if sample.Valid {
		out = append(out, x.labels[sample.Raw]...)
	}
	return append(out, '\n')
}

func (s *SampleWriter) object(out []byte, x *sampleSignal, sample *decode.Sample, bus string, t int64, digits int) []byte {
	out = append(append(out, `{"log":`...), s.log...)
	out = append(out, `,"t":`...)
	if digits > 0 {
		out = words.AppendNumber(out, float64(t)/1e9)
	} else {
		out = append(out, "null"...)
	}
	out = append(append(out, `,"bus":`...), bus...)
	out = append(append(out, `,"frame":`...), x.frame...)
	out = append(append(out, `,"signal":`...), x.name...)
	out = append(out, `,"value":`...)
	label := ""
	if sample.Valid {
		out = words.AppendNumber(out, sample.Value)
		label = x.labels[sample.Raw]
	} else {
		out = append(out, "null"...)
	}
	out = append(append(out, `,"unit":`...), x.unit...)
	if label == "" {
		label = "null"
	}
	out = append(append(out, `,"label":`...), label...)
	return append(out, '}', '\n')
}

// appendStamp writes nanoseconds as seconds with six digits, or with nine if the log's own
// stamps have more than six.
func appendStamp(out []byte, t int64, digits int) []byte {
	u := uint64(t)
	if t < 0 {
		out = append(out, '-')
		u = -u
	}
	out = strconv.AppendUint(out, u/1e9, 10)
	fraction := strconv.AppendUint(nil, 1e9+u%1e9, 10)[1:]
	if digits <= 6 {
		fraction = fraction[:6]
	}
	return append(append(out, '.'), fraction...)
}

// Flush writes what is buffered.
func (s *SampleWriter) Flush() error { return s.w.Flush() }
