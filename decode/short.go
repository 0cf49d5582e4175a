package decode

import "math/bits"

// shortPayload is the length in bytes of the longest payload that a short reads, that of a
// classic frame.
const shortPayload = 8

// short reads the payloads of an entry whose fields lie within eight bytes and do not
// select others, which is true of nearly all entries. It reads a payload as one word.
type short struct {
	need    uint8 // payload bytes that the fields take; 0 if a short cannot read the entry
	compact []compact
	samples []Sample
}

// compact is a plain field in as few bytes as possible, since it is read for each frame.
// For a field that is not plain, only plain is meaningful.
type compact struct {
	mask, signBit uint64
	mul, add      int64
	pow           float64
	plain         bool
	at            uint8 // how far its bits lie from the right end of the word in its byte order
	bigEndian     bool
}

// newShort returns the short of an entry, or the zero short if it cannot have one.
func newShort(l *layout) short {
	var s short
	if l.order != nil || len(l.fields) == 0 {
		return short{}
	}
	for i := range l.fields {
		f := &l.fields[i]
		if f.last >= shortPayload {
			return short{}
		}
		s.need = max(s.need, uint8(f.last)+1)
		s.compact = append(s.compact, compact{f.mask, f.signBit, f.mul, f.add, f.pow, f.plain, uint8(f.rightOf(0)), f.bigEndian})
		s.samples = append(s.samples, Sample{Signal: f.signal, Valid: true})
	}
	return s
}

// reads reports whether the short can read the frame.
func (s *short) reads(f *Frame) bool { return s.need > 0 && f.Len >= s.need && f.Len <= shortPayload }

// read returns the samples of a frame's payload. They are valid until the next call.
func (l *layout) read(f *Frame) []Sample {
	little := f.Word()
	big := bits.ReverseBytes64(little)
	samples := l.samples
	fields := l.compact[:len(samples)]
	for i := range samples {
		s, field := &samples[i], &fields[i]
		s.Time = f.Time
		if !field.plain {
			s.Raw, s.Value, s.Valid = l.fields[i].read(f.Payload())
			continue
		}
		pattern := little
		if field.bigEndian {
			pattern = big
		}
		pattern = pattern >> (field.at & 63) & field.mask
		s.Raw = int64((pattern ^ field.signBit) - field.signBit)
		s.Value = float64(s.Raw*field.mul+field.add) / field.pow
	}
	return samples
}
