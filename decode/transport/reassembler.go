package transport

import (
	"bytes"
	"encoding/binary"
)

const (
	// MaxMessage is the length in bytes of the longest message that is reassembled.
	// ISO 15765-2 allows up to 4 GiB, with which one damaged frame could claim all
	// memory; answers of a module are far shorter.
	MaxMessage = 64 << 10
	// MaxSenders is how many senders are followed at a time. A further one replaces the
	// sender that has been quiet the longest.
	MaxSenders = 64
	// Patience is how long a message waits for its next frame, in ns (N_Cr of
	// ISO 15765-2).
	Patience = int64(1e9)
)

// Frame types, in the upper four bits of the first byte (ISO 15765-2).
const (
	singleFrame      = 0x0
	firstFrame       = 0x1
	consecutiveFrame = 0x2
)

// Sender identifies a sender, since several may send at the same time.
type Sender struct {
	Bus      string
	ID       uint32
	Extended bool // 29-bit identifier
	// Address is the byte before the payload with extended addressing, or -1 with
	// normal addressing.
	Address int
}

// Stamp is the time of a frame and its place in the log.
type Stamp struct {
	Time int64 // ns
	Line int64 // from 1
}

// Reassembler reassembles the messages of one stream of frames. The zero value is ready
// to use. Its memory is bounded, whatever it is fed, and it allocates only for senders and
// lengths that it has not seen before.
type Reassembler struct {
	senders []*sender
	last    *sender // the sender of the last frame, so that most frames need no search
	losses  losses
}

// phase is the state of a sender after its last frames.
type phase uint8

const (
	idle phase = iota // nothing, or a complete message
	open              // a message that lacks frames
	lost              // a dropped message whose remaining frames may still come
)

// sender is the state of one Sender.
type sender struct {
	Sender
	phase phase
	begun Stamp // first frame of the message
	heard int64 // time of its newest frame

	message []byte // the part of the message that has come
	length  int    // of the complete message
	room    int    // message bytes in each consecutive frame but the last
	next    byte   // the expected sequence number
	tail    int    // message bytes in the last consecutive frame of a complete message
}

// Push takes the payload of the next frame, without the address byte of extended
// addressing. If the frame completes a message, Push returns the message and true. The
// message is a slice of the payload or of memory that the next call reuses. Payloads that
// ISO 15765-2 says to ignore change nothing.
//
// A message is dropped and counted as a loss if a sequence number is wrong, if a frame is
// too short, if another message begins before its end, if a second passes without a frame
// of it, or if its first frame is missing. Within a second of a dropped message, frames
// without a first frame are taken for the rest of that message.
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

// single takes a frame that is a complete message. In a frame of more than eight bytes the
// length has a byte of its own, after a 0.
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

// first takes the first of several frames. If its length is 0, the actual length is in the
// next four bytes.
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

// consecutive takes a later frame of a message.
func (r *Reassembler) consecutive(from Sender, payload []byte, at Stamp) ([]byte, bool) {
	s := r.find(from)
	if s == nil {
		s = r.add(from)
	}
	body := payload[1:]
	missing := s.length - len(s.message)
	switch {
	case s.phase == open && away(at.Time, s.heard) >= Patience:
		r.drop(s, at, "a second passed without another frame of it")
		return nil, false
	case s.phase == open && payload[0]&0xF != s.next:
		r.drop(s, at, "a consecutive frame is missing, doubled or out of order")
		return nil, false
	case s.phase == open && (missing > s.room && len(body) != s.room || len(body) < min(missing, s.room)):
		r.drop(s, at, "the length of a consecutive frame differs from that of its first frame")
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

// repeats reports whether a consecutive frame is that which completed the last message,
// logged twice. Nothing is lost by that.
func (s *sender) repeats(payload []byte) bool {
	return s.tail > 0 && payload[0]&0xF == (s.next-1)&0xF && len(payload) > s.tail &&
		bytes.HasSuffix(s.message, payload[1:1+s.tail])
}

// drop drops the open message. Its remaining frames are ignored.
func (r *Reassembler) drop(s *sender, at Stamp, why string) {
	s.phase, s.heard = lost, at.Time
	r.losses.add(s.begun, why)
}

// find returns the state of a sender, or nil.
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

// add begins to follow a sender. If there are too many, the new one replaces the sender
// that has been quiet the longest, preferably one without an open message.
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

// frameLength returns the length of the frame's payload, including the address byte.
func frameLength(from Sender, payload []byte) int {
	if from.Address >= 0 {
		return len(payload) + 1
	}
	return len(payload)
}

// away returns the time between two stamps in either order.
func away(a, b int64) int64 { return max(a-b, b-a) }
