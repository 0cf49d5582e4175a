package capture

import (
	"bytes"
	"encoding/binary"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
)

// packetData returns the ranges of the packets' data in an undamaged capture.
func packetData(t *testing.T, data []byte) [][2]int {
	t.Helper()
	var order binary.ByteOrder = binary.LittleEndian
	var places [][2]int
	if data[0] != 0x0A { // pcap
		if data[0] == 0xA1 {
			order = binary.BigEndian
		}
		for at := 24; at < len(data); {
			from := at + 16
			at = from + int(order.Uint32(data[at+8:]))
			places = append(places, [2]int{from, at})
		}
		return places
	}
	if data[8] == 0x1A {
		order = binary.BigEndian
	}
	for at := 0; at < len(data); at += int(order.Uint32(data[at+4:])) {
		if order.Uint32(data[at:]) == 6 { // enhanced packet block
			from := at + 28
			places = append(places, [2]int{from, from + int(order.Uint32(data[at+20:]))})
		}
	}
	return places
}

// If the bytes of a packet are damaged but its length is not, only that packet changes or is
// rejected.
func TestPacketsBesideADamagedOneAreNotAffected(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	rejected := int64(0) // more than before
	for number, sound := range captures(t, log+log) {
		places := packetData(t, sound)
		before, infoBefore, err := readAll(t, bytes.NewReader(sound))
		if err != nil || infoBefore.Lines != int64(len(places)) || len(before) == 0 {
			t.Fatalf("capture %d of %d packets: error %v, %+v", number, len(places), err, infoBefore)
		}
		for range 200 {
			data := bytes.Clone(sound)
			hit := map[int64]bool{}
			for range 1 + rng.IntN(3) {
				k := rng.IntN(len(places))
				hit[int64(k+1)] = true
				for range 1 + rng.IntN(8) {
					data[places[k][0]+rng.IntN(places[k][1]-places[k][0])] ^= 1 << rng.IntN(8)
				}
			}
			after, info, err := readAll(t, bytes.NewReader(data))
			was, is := others(before, hit), others(after, hit)
			if !slices.Equal(was, is) || err != nil || info.Lines != infoBefore.Lines {
				t.Fatalf("capture %d, packets %v damaged: error %v, %+v; the others (-before +after):\n%s", number, hit, err, info, cmp.Diff(was, is))
			}
			rejected += info.Rejected - infoBefore.Rejected
		}
	}
	if rejected < 100 {
		t.Errorf("only %d more packets were rejected", rejected)
	}
}

// others returns the frames of the packets that were not damaged.
func others(list []decode.Frame, hit map[int64]bool) []decode.Frame {
	var kept []decode.Frame
	for i := range list {
		if !hit[list[i].Line] {
			kept = append(kept, list[i])
		}
	}
	return kept
}
