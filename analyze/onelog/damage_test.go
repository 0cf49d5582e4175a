package onelog_test

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"lull/decode"
	"lull/decode/candump"
)

// soundDrive is a map with frames to make small logs of.
type soundDrive struct {
	m      *decode.Map
	frames []decode.Frame
}

// soundDrives has drives of every kind of map, each some minutes of stops and
// starts, with frames that no map names between them.
func soundDrives(t *testing.T) []soundDrive {
	t.Helper()
	var rpm, stop, starter, brake, volt strings.Builder
	for k := range 12 {
		at := func(b *strings.Builder, s float64, value string) {
			fmt.Fprintf(b, " %dms=%s", int(1000*(6*float64(k)+s)), value)
		}
		for s, v := range map[float64]string{0: "800", 1: "800", 1.5: "0", 3: "0", 3.4: "900", 5.9: "800"} {
			at(&rpm, s, v)
		}
		at(&stop, 0, "0")
		at(&stop, 1, "1")
		at(&stop, 2.9, "0")
		at(&starter, 0, "0")
		at(&starter, 2.95, "1")
		at(&starter, 3.3, "0")
		at(&brake, 0.2, "pressed")
		at(&brake, 2.85, "released")
		at(&volt, 0, "12.6")
		at(&volt, 2.95, "12.3")
		at(&volt, 3, "8.9")
		at(&volt, 3.3, "12.2")
	}
	city := parseDrive(t, "rpm @50ms:"+sortedPoints(rpm.String())+"\nstop @change:"+stop.String()+"\nstarter @50ms+7ms:"+starter.String()+
		"\nbrake @change/1s:"+brake.String()+"\nvolt @100ms+11ms:"+volt.String()+
		"\nspeed @100ms+13ms: 0s=0 50s=0 60s=30 72s=0\nturn @500ms: 0s=off 20s=left 30s=off\nsteer @200ms+17ms: 0s=0 60s=90"+
		"\ncharge @1s: 0s=80 72s=60\ncoolant @1s+3ms: 0s=20 72s=90\nac @1s+5ms: 0s=off 30s=on\nhold @100ms+19ms: 0s=500 72s=300\nbody @100ms+29ms: 0s=1", everything)
	maps := fuzzMaps(t)
	all := []soundDrive{{city.m, city.frames}, {m: maps[1]}, {m: maps[2]}, {m: maps[3]}}
	for i := range 900 {
		now := epoch + int64(i)*50e6
		speed, sent := 800.0, func(drive int, f decode.Frame, data []byte) {
			f.Time, f.Bus, f.Len = now, "can0", uint8(len(data))
			copy(f.Data[:], data)
			all[drive].frames = append(all[drive].frames, f)
			now += 100e3
		}
		switch phase := i % 60; {
		case phase > 22 && phase < 40:
			speed = 0
		case phase > 20 && phase < 42:
			speed = 300
		}
		float := func(v float64) []byte { return binary.LittleEndian.AppendUint32(nil, math.Float32bits(float32(v))) }
		sent(1, decode.Frame{ID: 0x100}, append(float(speed), float(0)...))
		sent(1, decode.Frame{ID: 0x101}, binary.LittleEndian.AppendUint64(nil, math.Float64bits(12600-speed)))
		if i%60 == 20 || i%60 == 39 {
			sent(1, decode.Frame{ID: 0x105}, []byte{byte(4 + i%60/39*2 + i%60/20%2)})
		}
		eighths := binary.LittleEndian.AppendUint16(nil, uint16(speed*8))
		sent(2, decode.Frame{ID: 0x18F00400, Flags: decode.Extended}, []byte{0, 0, 0, eighths[0], eighths[1], 0, 0, 0xFF})
		quarters := binary.BigEndian.AppendUint16(nil, uint16(speed*4))
		answer := decode.Frame{ID: 0x7E8}
		if i%2 == 0 {
			sent(3, answer, []byte{4, 0x41, 0x0C, quarters[0], quarters[1], 0, 0, 0})
			continue
		}
		// One answer in two frames, and one to read-data-by-identifier.
		sent(3, answer, []byte{0x10, 9, 0x41, 0x0C, quarters[0], quarters[1], 0x0D, 0})
		sent(3, answer, []byte{0x21, 0x0C, quarters[0], quarters[1], 0, 0, 0, 0})
		sent(3, answer, []byte{4, 0x62, 0xF4, 0x0D, 126, 0, 0, 0})
	}
	return all
}

// sortedPoints brings points such as " 100ms=0" into the order of time.
func sortedPoints(points string) string {
	words := strings.Fields(points)
	at := func(w string) int64 { when, _, _ := strings.Cut(w, "="); return duration(when) }
	for i := range words {
		for k := i; k > 0 && at(words[k]) < at(words[k-1]); k-- {
			words[k], words[k-1] = words[k-1], words[k]
		}
	}
	return " " + strings.Join(words, " ")
}

// logLine is one line of a log that gets damaged.
type logLine struct {
	text []byte // with its line end, as long as nothing took it away
	// frame is what the line says, nil if it says none or is damaged.
	frame   *decode.Frame
	damaged bool
}

// otherLines hold no frame; the last one is sound behind an error frame only.
var otherLines = []string{"\n", "# a remark\n", "  \r\n", "DROPCOUNT: dropped 7 CAN frames on 'can0' socket (total drops 7)\n", "\r\n", "\tcontroller-problem{tx-error-passive}\n"}

// soundLog makes a log of so many frames of the drive, from any of its moments
// on, with other lines and frames of every kind in between.
func soundLog(rng *rand.Rand, d *soundDrive, frames int) []logLine {
	var list []logLine
	for from := rng.IntN(len(d.frames)); frames > 0; from = rng.IntN(len(d.frames)) {
		for i := from; i < len(d.frames) && frames > 0; i++ {
			frames--
			list = append(list, lineOf(d.frames[i]))
			if rng.IntN(12) == 0 {
				list = append(list, lineOf(otherFrame(rng, d.frames[i].Time)))
			}
			if rng.IntN(60) == 0 {
				list = append(list, logLine{text: []byte(otherLines[rng.IntN(len(otherLines))])})
			}
		}
	}
	return list
}

func lineOf(f decode.Frame) logLine {
	return logLine{text: candump.AppendFrame(nil, &f), frame: &f}
}

// otherFrame makes a frame of any kind.
func otherFrame(rng *rand.Rand, now int64) decode.Frame {
	f := decode.Frame{Time: now, Bus: []string{"can0", "can1", "a-longer-name"}[rng.IntN(3)], ID: 0x600 + rng.Uint32N(0x100), Len: uint8(rng.IntN(9))}
	switch rng.IntN(7) {
	case 0:
		f.Flags = decode.Remote
	case 1:
		f.Flags, f.ID, f.Len = decode.Error, 0x204, 8
	case 2:
		f.Flags, f.Len = decode.FD|decode.BitRateSwitch, 24
	case 3:
		f.RawDLC, f.Len = 11, 8
	case 4:
		f.Flags, f.ID = decode.Extended|decode.Received, rng.Uint32N(1<<29)
	case 5:
		f.Time += rng.Int64N(1000) // nanoseconds
	}
	for i := range f.Payload() {
		f.Data[i] = byte(rng.Uint32())
	}
	return f
}

// telling are the bytes that mean most in a log.
const telling = "\n\r\t (0.)#R_ 1\x00"

// damageLog changes a log in some of the ways in which logs get damaged. Lines that
// are moved, doubled or given another time stay sound ones.
func damageLog(rng *rand.Rand, list []logLine, other func() []logLine) []logLine {
	for range 1 + rng.IntN(10) {
		i := rng.IntN(len(list))
		to := min(len(list), i+1+rng.IntN(30))
		switch rng.IntN(12) {
		case 0: // bits flipped
			for range 1 + rng.IntN(2)*rng.IntN(4) {
				spoil(list, i, func(b []byte) []byte {
					b[rng.IntN(len(b))] ^= 1 << rng.IntN(8)
					return b
				})
			}
		case 1: // another digit, which most often is no damage to the form
			spoil(list, i, func(b []byte) []byte {
				b[rng.IntN(len(b))] = "0123456789ABCDEFabcdef"[rng.IntN(22)]
				return b
			})
		case 2: // cut at the end, its line end too
			spoil(list, i, func(b []byte) []byte { return b[:rng.IntN(len(b))] })
		case 3: // a piece lost
			spoil(list, i, func(b []byte) []byte {
				from := rng.IntN(len(b))
				return append(b[:from], b[min(len(b), from+1+rng.IntN(20)):]...)
			})
		case 4: // bytes inserted
			spoil(list, i, func(b []byte) []byte {
				more := make([]byte, 1+rng.IntN(12))
				for k := range more {
					more[k] = byte(rng.Uint32())
					if rng.IntN(3) > 0 {
						more[k] = telling[rng.IntN(len(telling))]
					}
				}
				if rng.IntN(100) == 0 {
					more = make([]byte, 65_000+rng.IntN(100_000))
				}
				at := rng.IntN(len(b) + 1)
				return append(b[:at:at], append(more, b[at:]...)...)
			})
		case 5: // half of one line, half of another
			half := list[rng.IntN(len(list))].text
			spoil(list, i, func(b []byte) []byte {
				at := rng.IntN(len(b))
				return append(b[:at:at], half[rng.IntN(len(half)+1):]...)
			})
		case 6: // doubled
			list = append(list[:to:to], list[i:]...)
		case 7: // lost
			if len(list) > to-i {
				list = append(list[:i:i], list[to:]...)
			}
		case 8: // shuffled
			list = append([]logLine(nil), list...)
			rng.Shuffle(to-i, func(a, b int) { list[i+a], list[i+b] = list[i+b], list[i+a] })
		case 9: // interleaved with another
			var both []logLine
			more := other()
			for len(list) > 0 || len(more) > 0 {
				if len(more) == 0 || len(list) > 0 && rng.IntN(2) == 0 {
					both, list = append(both, list[0]), list[1:]
				} else {
					both, more = append(both, more[0]), more[1:]
				}
			}
			list = both
		case 10, 11: // another time
			bend(rng, list[i:to])
		}
	}
	return list
}

// spoil changes one line's text.
func spoil(list []logLine, i int, change func([]byte) []byte) {
	if len(list[i].text) > 0 {
		list[i] = logLine{text: change(append([]byte(nil), list[i].text...)), damaged: true}
	}
}

// bend gives lines other times: all moved by one step, all the same, or any.
func bend(rng *rand.Rand, list []logLine) {
	const most = math.MaxInt64 / 1_000_000_000 * 1_000_000_000 // what a stamp can say
	step := []int64{1e6, -1e6, 90e6, -110e6, 3e9, -3e9, 3600e9, -3600e9, 1e18, -1e18}[rng.IntN(10)]
	same := []int64{0, most - 1000, epoch, epoch + 5e9}[rng.IntN(4)]
	kind := rng.IntN(4)
	for i := range list {
		if list[i].frame == nil {
			continue
		}
		f := *list[i].frame
		switch kind {
		case 0:
			f.Time = same
		case 1:
			f.Time = rng.Int64N(most) / 1000 * 1000
		default:
			f.Time = min(max(f.Time+step, 0), most-1000)
		}
		list[i] = lineOf(f)
	}
}
