package decode

import (
	"encoding/binary"
	"math/bits"
)

// shortest is the payload in bytes of the longest frame that a short reads: a
// classic one.
const shortest = 8

// short reads the payloads of an entry whose fields lie within eight bytes and
// select no others, as nearly all entries' do. It reads a payload as one word, and
// keeps the samples of the one before: most fields of most frames have not
// changed since.
type short struct {
	need    uint8  // payload bytes that the fields take; 0: the entry is not such
	fresh   bool   // samples are those of the payload before
	bits    uint64 // of all fields, in a payload read little-endian
	word    uint64 // the payload before, no other bits but the fields'
	compact []compact
	samples []Sample
}

// compact is a plain field in as few bytes as it takes: it is read for each frame.
// Of a field that is not plain it says no more than that.
type compact struct {
	mask, signBit uint64
	mul, add      int64
	pow           float64
	plain         bool
	at            uint8 // how far its bits lie from the right end of the word in its order
	bigEndian     bool
}

// newShort makes an entry's short.
func newShort(l *layout) short {
	var s short
	if l.order != nil || len(l.fields) == 0 {
		return short{}
	}
	for i := range l.fields {
		f := &l.fields[i]
		if f.last >= shortest {
			return short{}
		}
		s.need = max(s.need, uint8(f.last)+1)
		at := f.rightOf(0)
		mask := f.mask << at
		if f.bigEndian {
			mask = bits.ReverseBytes64(mask)
		}
		s.bits |= mask
		s.compact = append(s.compact, compact{f.mask, f.signBit, f.mul, f.add, f.pow, f.plain, uint8(at), f.bigEndian})
		s.samples = append(s.samples, Sample{Signal: f.signal, Valid: true})
	}
	return s
}

// reads reports whether read takes the frame.
func (s *short) reads(f *Frame) bool { return s.need > 0 && f.Len >= s.need && f.Len <= shortest }

// read returns the samples of a frame's payload. They hold until the next call.
func (l *layout) read(f *Frame) []Sample {
	little := binary.LittleEndian.Uint64(f.Data[:])
	word := little & l.bits
	samples := l.samples
	if l.fresh && word == l.word {
		for i := range samples {
			samples[i].Time, samples[i].Again = f.Time, samples[i].Valid
		}
		return samples
	}
	big := bits.ReverseBytes64(little)
	fields := l.compact[:len(samples)]
	for i := range samples {
		s, field := &samples[i], &fields[i]
		s.Time = f.Time
		if !field.plain {
			raw, value, valid := l.fields[i].read(f.Payload())
			s.Again = l.fresh && valid && s.Valid && raw == s.Raw
			s.Raw, s.Value, s.Valid = raw, value, valid
			continue
		}
		pattern := little
		if field.bigEndian {
			pattern = big
		}
		pattern = pattern >> (field.at & 63) & field.mask
		raw := int64((pattern ^ field.signBit) - field.signBit)
		if s.Again = l.fresh && raw == s.Raw; !s.Again {
			s.Raw, s.Value = raw, float64(raw*field.mul+field.add)/field.pow
		}
	}
	l.word, l.fresh = word, true
	return samples
}
