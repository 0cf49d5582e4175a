package transport

import (
	"bytes"
	"encoding/binary"
)

const (
	// MaxMessage is the longest message in bytes that is put together. ISO
	// 15765-2 allows up to 4 GiB, so that one damaged frame could claim all
	// memory; answers of a module are far shorter.
	MaxMessage = 64 << 10
	// MaxSenders is how many senders are followed at a time. Beyond that the one
	// that was quiet for longest gives way.
	MaxSenders = 64
	// Patience is how long a message waits for its next frame, in ns (N_Cr of
	// ISO 15765-2).
	Patience = int64(1e9)
)

// Types of frames, the upper four bits of the first byte (ISO 15765-2).
const (
	singleFrame      = 0x0
	firstFrame       = 0x1
	consecutiveFrame = 0x2
)

// Sender tells messages of different senders apart, which may send at the same
// time.
type Sender struct {
	Bus      string
	ID       uint32
	Extended bool // 29-bit identifier
	// Address is the byte before the payload with extended addressing, or -1 with
	// normal addressing.
	Address int
}

// Stamp is when and where in a log a frame was.
type Stamp struct {
	Time int64 // ns
	Line int64 // from 1
}

// Reassembler puts the messages of one stream of frames together. The zero value
// is ready for use. Its memory is bounded, whatever it is fed, and it allocates
// only for senders and lengths that it did not see before.
type Reassembler struct {
	senders []*sender
	last    *sender // that sent last: most frames need no search
	losses  losses
}

// phase is what the last frames of a sender came to.
type phase uint8

const (
	idle phase = iota // nothing, or a whole message
	open              // a message that lacks frames
	lost              // a dropped message whose further frames may still come
)

// sender is what is known of one Sender.
type sender struct {
	Sender
	phase phase
	begun Stamp // first frame of the message
	heard int64 // time of its newest frame

	message []byte // what is there of the message
	length  int    // of the whole message
	room    int    // message bytes in each consecutive frame but the last
	next    byte   // sequence number that is due
	tail    int    // bytes that the last consecutive frame of a whole message brought
}

// Push takes the payload of the next frame, without the address byte of extended
// addressing. Where the frame completes a message it returns it: a slice of the
// payload or of memory that the next call reuses. Payloads that ISO 15765-2 says
// to ignore change nothing.
//
// A message is dropped, alone and counted, where a sequence number is not the one
// due, where a frame is too short, where another message begins before its end,
// where a second passes without a frame of it, and where its first frame is
// missing. Within a second of a dropped message, what lacks its first frame is
// taken for the rest of that one.
func (r *Reassembler) Push(from Sender, payload []byte, at Stamp) ([]byte, bool) {
	if len(payload) == 0 {
		return nil, false
	}
	switch payload[0] >> 4 {
	case singleFrame:
		return r.single(from, payload, at)
	case firstFrame:
		r.first(from, payload, at)
	case consecutiveFrame:
		return r.consecutive(from, payload, at)
	}
	return nil, false
}

// single takes a frame that is a whole message. Above eight bytes the length has
// a byte of its own, after a 0.
func (r *Reassembler) single(from Sender, payload []byte, at Stamp) ([]byte, bool) {
	length, header := int(payload[0]&0xF), 1
	if length == 0 && frameLength(from, payload) > 8 {
		length, header = int(payload[1]), 2
	}
	if length == 0 || header == 1 && length > 7 || length > len(payload)-header {
		return nil, false
	}
	if s := r.find(from); s != nil {
		if s.tail = 0; s.phase == open {
			r.drop(s, at, "a single frame came before its end")
		} else {
			s.phase = idle
		}
	}
	return payload[header : header+length], true
}

// first takes the first of several frames. A length of 0 says that it stands in
// the next four bytes.
func (r *Reassembler) first(from Sender, payload []byte, at Stamp) {
	size := frameLength(from, payload)
	if size < 8 {
		return
	}
	length, header := int64(payload[0]&0xF)<<8|int64(payload[1]), 2
	if length == 0 {
		length, header = int64(binary.BigEndian.Uint32(payload[2:])), 6
		if length <= 0xFFF {
			return
		}
	}
	// A message that fits in a single frame is not sent in several.
	alone := len(payload) - 1
	if size > 8 {
		alone--
	}
	if length <= int64(alone) {
		return
	}
	s := r.find(from)
	if s == nil {
		s = r.add(from)
	}
	if s.phase == open {
		r.losses.add(s.begun, "a new first frame came before its end")
	}
	s.begun, s.heard, s.tail = at, at.Time, 0
	if length > MaxMessage {
		s.phase = lost
		r.losses.add(at, "it would be longer than 64 KiB")
		return
	}
	s.phase = open
	s.message = append(s.message[:0], payload[header:]...)
	s.length, s.room, s.next = int(length), len(payload)-1, 1
}

// consecutive takes a further frame of a message.
func (r *Reassembler) consecutive(from Sender, payload []byte, at Stamp) ([]byte, bool) {
	s := r.find(from)
	if s == nil {
		s = r.add(from)
	}
	body := payload[1:]
	missing := s.length - len(s.message)
	switch {
	case s.phase == open && away(at.Time, s.heard) >= Patience:
		r.drop(s, at, "a second passed without a further frame of it")
		return nil, false
	case s.phase == open && payload[0]&0xF != s.next:
		r.drop(s, at, "a consecutive frame is missing, doubled or out of order")
		return nil, false
	case s.phase == open && (missing > s.room && len(body) != s.room || len(body) < min(missing, s.room)):
		r.drop(s, at, "a consecutive frame has another length than its first frame")
		return nil, false
	case s.phase == idle && s.repeats(payload):
		return nil, false
	case s.phase == idle, s.phase == lost && away(at.Time, s.heard) >= Patience:
		s.phase, s.begun, s.heard = lost, at, at.Time
		r.losses.add(at, "its first frame is missing")
		return nil, false
	case s.phase == lost:
		s.heard = at.Time
		return nil, false
	}
	s.heard = at.Time
	s.next = (s.next + 1) & 0xF
	if missing > s.room {
		s.message = append(s.message, body...)
		return nil, false
	}
	s.message = append(s.message, body[:missing]...)
	s.phase, s.tail = idle, missing
	return s.message, true
}

// repeats reports whether a consecutive frame is the one that completed the last
// message, written down twice: nothing is lost by it.
func (s *sender) repeats(payload []byte) bool {
	return s.tail > 0 && payload[0]&0xF == (s.next-1)&0xF && len(payload) > s.tail &&
		bytes.HasSuffix(s.message, payload[1:1+s.tail])
}

// drop gives up the open message; its further frames are passed over.
func (r *Reassembler) drop(s *sender, at Stamp, why string) {
	s.phase, s.heard = lost, at.Time
	r.losses.add(s.begun, why)
}

// find returns what is known of a sender, or nil.
func (r *Reassembler) find(from Sender) *sender {
	if r.last != nil && r.last.Sender == from {
		return r.last
	}
	for _, s := range r.senders {
		if s.Sender == from {
			r.last = s
			return s
		}
	}
	return nil
}

// add begins to follow a sender. Where there are too many, it takes the place of
// the one that was quiet for longest, if possible one without an open message.
func (r *Reassembler) add(from Sender) *sender {
	if len(r.senders) < MaxSenders {
		r.senders = append(r.senders, &sender{Sender: from})
		r.last = r.senders[len(r.senders)-1]
		return r.last
	}
	s := r.senders[0]
	for _, other := range r.senders[1:] {
		if a, b := other.phase == open, s.phase == open; a != b && b || a == b && other.heard < s.heard {
			s = other
		}
	}
	if s.phase == open {
		r.losses.add(s.begun, "too many messages at the same time")
	}
	*s = sender{Sender: from, message: s.message[:0]}
	r.last = s
	return s
}

// frameLength returns the payload of the whole frame, address byte included.
func frameLength(from Sender, payload []byte) int {
	if from.Address >= 0 {
		return len(payload) + 1
	}
	return len(payload)
}

// away returns the time between two stamps, whichever comes first.
func away(a, b int64) int64 { return max(a-b, b-a) }
