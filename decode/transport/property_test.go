package transport

import (
	"bytes"
	"encoding/binary"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// frameSizes are the payload sizes of CAN FD frames from 8 bytes on.
var frameSizes = []int{8, 12, 16, 20, 24, 32, 48, 64}

// segment cuts a message into payloads, without the address byte, like a sender with
// frames of up to size bytes. A padding below 0 leaves classic frames unpadded; CAN FD
// frames must be padded to a size that exists.
func segment(message []byte, address, size, padding int) [][]byte {
	taken := 0 // bytes taken by the address
	if address >= 0 {
		taken = 1
	}
	pad := func(b []byte) []byte {
		want := len(b) + taken
		if want <= 8 && padding >= 0 {
			want = 8
		}
		for _, s := range frameSizes {
			if want > 8 && s >= want {
				want = s
				break
			}
		}
		for len(b)+taken < want {
			b = append(b, byte(padding))
		}
		return b
	}
	if len(message)+1+taken <= 8 {
		return [][]byte{pad(append([]byte{byte(len(message))}, message...))}
	}
	if len(message)+2+taken <= size {
		return [][]byte{pad(append([]byte{0, byte(len(message))}, message...))}
	}
	head := []byte{0x10 | byte(len(message)>>8), byte(len(message))}
	if len(message) > 0xFFF {
		head = binary.BigEndian.AppendUint32([]byte{0x10, 0}, uint32(len(message)))
	}
	n := size - taken - len(head)
	list := [][]byte{append(head, message[:n]...)}
	for i, rest := 1, message[n:]; len(rest) > 0; i++ {
		n := min(len(rest), size-taken-1)
		list = append(list, pad(append([]byte{0x20 | byte(i)&0xF}, rest[:n]...)))
		rest = rest[n:]
	}
	return list
}

func drawSender(t *rapid.T) (from Sender, size, padding int) {
	from = Sender{
		Bus: rapid.SampledFrom([]string{"can0", "can1"}).Draw(t, "bus"), ID: uint32(rapid.IntRange(0x7E8, 0x7EA).Draw(t, "id")),
		Extended: rapid.Bool().Draw(t, "29 bits"), Address: rapid.SampledFrom([]int{-1, 0, 0x21, 0xF1}).Draw(t, "address"),
	}
	size = rapid.SampledFrom(append([]int{8, 8, 8}, frameSizes...)).Draw(t, "size")
	return from, size, rapid.IntRange(-1, 255).Draw(t, "padding")
}

// lane is the payloads of one sender in order, and the messages that must result.
type lane struct {
	from   Sender
	frames [][]byte
	begins map[int]bool // the frames before which a second passes
	now    int64
	want   [][]byte
}

// send feeds the lanes interleaved, with flow control frames between them, and returns the
// messages of each.
func send(t *rapid.T, r *Reassembler, lanes []*lane) [][][]byte {
	got := make([][][]byte, len(lanes))
	at := Stamp{}
	next := make([]int, len(lanes))
	for {
		var ready []int
		for i, l := range lanes {
			if next[i] < len(l.frames) {
				ready = append(ready, i)
			}
		}
		if len(ready) == 0 {
			return got
		}
		i := rapid.SampledFrom(ready).Draw(t, "lane")
		if lanes[i].now += rapid.Int64Range(0, 5e6).Draw(t, "ns"); lanes[i].begins[next[i]] {
			lanes[i].now += Patience
		}
		at.Time = lanes[i].now
		at.Line++
		if rapid.IntRange(0, 9).Draw(t, "flow control") == 0 {
			if _, ok := r.Push(lanes[i].from, []byte{0x30, 8, 10}, at); ok {
				t.Fatal("a flow control is no message")
			}
		}
		if m, ok := r.Push(lanes[i].from, lanes[i].frames[next[i]], at); ok {
			got[i] = append(got[i], bytes.Clone(m))
		}
		next[i]++
	}
}

func drawLanes(t *rapid.T, fill func(l *lane, size, padding int)) []*lane {
	var lanes []*lane
	seen := map[Sender]bool{}
	for range rapid.IntRange(1, 4).Draw(t, "senders") {
		from, size, padding := drawSender(t)
		if seen[from] {
			continue
		}
		seen[from] = true
		l := &lane{from: from, begins: map[int]bool{}}
		fill(l, size, padding)
		lanes = append(lanes, l)
	}
	return lanes
}

func TestSegmentedMessagesAreReassembled(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var r Reassembler
		lanes := drawLanes(t, func(l *lane, size, padding int) {
			for range rapid.IntRange(1, 4).Draw(t, "messages") {
				length := rapid.OneOf(rapid.IntRange(1, 80), rapid.IntRange(1, 400), rapid.SampledFrom([]int{4094, 4095, 4096, 5000})).Draw(t, "length")
				message := make([]byte, length)
				x := rapid.Uint32().Draw(t, "seed")
				for i := range message {
					x = x*1664525 + 1013904223
					message[i] = byte(x >> 24)
				}
				l.want = append(l.want, message)
				l.frames = append(l.frames, segment(message, l.from.Address, size, padding)...)
			}
		})
		for i, got := range send(t, &r, lanes) {
			if diff := cmp.Diff(lanes[i].want, got); diff != "" {
				t.Fatalf("%+v (-want +got):\n%s", lanes[i].from, diff)
			}
		}
		if count, places := r.Losses(); count != 0 {
			t.Errorf("%d lost: %+v", count, places)
		}
	})
}

// A second passes between the messages of a sender, because if two messages that both lack
// frames were closer together, only one loss might be counted.
func TestOneDisturbedFrameCostsOnlyItsMessage(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var r Reassembler
		lost := int64(0)
		lanes := drawLanes(t, func(l *lane, size, padding int) {
			for n := range rapid.IntRange(1, 7).Draw(t, "messages") {
				length := rapid.IntRange(1, 200).Draw(t, "length")
				message := bytes.Repeat([]byte{byte(n + 1)}, length)
				list := segment(message, l.from.Address, size, padding)
				last := len(list) - 1
				kind := "none"
				if n%2 == 1 && last > 0 { // the messages beside it stay complete
					kind = rapid.SampledFrom([]string{"none", "drop", "double", "swap"}).Draw(t, "disturbance")
				}
				at := rapid.IntRange(0, last).Draw(t, "at")
				arrives := 1
				switch {
				case kind == "drop":
					list, arrives = append(list[:at:at], list[at+1:]...), 0
					lost++
				case kind == "double":
					list = append(list[:at+1:at+1], list[at:]...)
					if at < last { // a first frame begins a new message; any other ends this one
						lost++
						if at > 0 {
							arrives = 0
						}
					}
				case kind == "swap" && at > 0 && at < last:
					list[at], list[at+1] = list[at+1], list[at]
					lost, arrives = lost+1, 0
				}
				for range arrives {
					l.want = append(l.want, message)
				}
				l.begins[len(l.frames)] = true
				l.frames = append(l.frames, list...)
			}
		})
		for i, got := range send(t, &r, lanes) {
			if diff := cmp.Diff(lanes[i].want, got); diff != "" {
				t.Fatalf("%+v (-want +got):\n%s", lanes[i].from, diff)
			}
		}
		if count, places := r.Losses(); count != lost {
			t.Errorf("%d lost, want %d: %+v", count, lost, places)
		}
	})
}

// FuzzReassembler feeds arbitrary frames. Each is encoded in the data as sender, length,
// time since the previous frame in units of 10 ms, and payload.
func FuzzReassembler(f *testing.F) {
	add := func(sender byte, frames ...[]byte) {
		var data []byte
		for _, payload := range frames {
			data = append(append(data, sender, byte(len(payload)), 1), payload...)
		}
		f.Add(data)
	}
	long := bytes.Repeat([]byte{1, 2, 3}, 30)
	add(0, segment(long, -1, 8, 0)...)
	add(0x81, segment(long, 0x81, 8, 0xCC)...)
	add(1, segment(long, -1, 64, 0)...)
	add(2, []byte{0x10, 0, 0, 1, 0, 0, 1, 2}, []byte{0x21, 1, 2, 3, 4, 5, 6, 7}, []byte{3, 1, 2, 3})
	add(3, []byte{0x10, 0, 0xFF, 0xFF, 0xFF, 0xFF, 1, 2}, []byte{0x21}, []byte{0}, nil)
	f.Fuzz(func(t *testing.T, data []byte) {
		var r Reassembler
		at := Stamp{}
		before := int64(0)
		for len(data) >= 3 {
			from := Sender{ID: uint32(data[0]), Address: -1}
			if data[0] >= 0x80 {
				from.Address = int(data[0])
			}
			n := min(int(data[1]&0x3F), len(data)-3)
			at.Time += int64(int8(data[2])) * 10e6
			at.Line++
			payload := data[3 : 3+n]
			data = data[3+n:]

			m, ok := r.Push(from, payload, at)
			if ok != (len(m) > 0) || len(m) > MaxMessage {
				t.Fatalf("frame %d: whole %v with %d bytes", at.Line, ok, len(m))
			}
			// A message ends with the content of the frame that completes it.
			if end := m; ok {
				if payload[0]>>4 == consecutiveFrame {
					end = m[len(m)-r.find(from).tail:]
				}
				if !bytes.Contains(payload[1:], end) || len(end) == 0 {
					t.Fatalf("frame %d: % X ends with % X", at.Line, payload, end)
				}
			}
			if count := r.losses.count; count < before || count > at.Line {
				t.Fatalf("frame %d: %d lost, %d before", at.Line, count, before)
			}
			before = r.losses.count
		}
		if count, first := r.Losses(); count < before || count > at.Line || len(first) != int(min(count, MaxLosses)) {
			t.Fatalf("%d lost, %d before the end, places %+v", count, before, first)
		}
		held := 0
		for _, s := range r.senders {
			held += cap(s.message)
		}
		if len(r.senders) > MaxSenders || held > MaxSenders*2*MaxMessage {
			t.Errorf("%d senders hold %d bytes", len(r.senders), held)
		}
	})
}
