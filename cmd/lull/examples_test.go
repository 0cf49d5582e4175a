package main

import (
	"bytes"
	"encoding/binary"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/gopacket/gopacket"
	"github.com/gopacket/gopacket/layers"
	"github.com/gopacket/gopacket/pcapgo"

	"lull/analyze/scenario"
	"lull/cmd/lull/internal/sample/driven"
	"lull/decode"
	"lull/decode/candump"
)

const examples = "../../examples"

// The examples' logs are made from the demonstration's drives, the same bytes each
// time.
func TestExampleLogsAreMadeFromTheDemonstration(t *testing.T) {
	m, after := driven.Drive(t, "slow-to-go-after.log")
	_, before := driven.Drive(t, "slow-to-go-before.log")
	for name, made := range map[string][]byte{
		"polled/drive.log":     polledLog(m, after),
		"capture/drive.pcapng": captureOf(t, before, 26, 40),
		"capture/map.yaml":     scenario.Map("map.yaml"),
	} {
		path := filepath.Join(examples, name)
		there, err := os.ReadFile(path)
		if err == nil && bytes.Equal(there, made) {
			continue
		}
		if !*update {
			t.Errorf("examples/%s is not what is made of the demonstration (%v); make golden makes it", name, err)
			continue
		}
		if err := os.WriteFile(path, made, 0o644); err != nil {
			t.Error(err)
		}
	}
}

// polledLog is a drive as a scan tool sees it that asks four times a second.
func polledLog(m *decode.Map, drive scenario.Drive) []byte {
	decoder := decode.NewDecoder(m)
	now := map[decode.Role]float64{} // what the car would answer
	var log []byte
	next := int64(0)
	line := func(at int64, id uint32, data ...byte) {
		f := decode.Frame{Time: at, Bus: "can0", ID: id, Len: 8}
		for i := range f.Data[:8] {
			f.Data[i] = 0x55
		}
		copy(f.Data[:], data)
		log = candump.AppendFrame(log, &f)
	}
	for f := range drive.Frames {
		for _, s := range decoder.Decode(f) {
			now[m.Signals[s.Signal].Role] = m.Signals[s.Signal].ToRole.Apply(s.Value)
		}
		if len(now) < 8 || f.Time < next {
			continue
		}
		next = f.Time + 250_000_000
		speed := uint16(now[decode.EngineSpeed] * 4)
		millivolts := uint16(now[decode.BatteryVoltage]*1000 + 0.5)
		line(f.Time, 0x7E0, 4, 0x01, 0x0C, 0x0D, 0x42)
		line(f.Time+9_000_000, 0x7E8, 0x10, 9, 0x41, 0x0C, byte(speed>>8), byte(speed), 0x0D, byte(now[decode.VehicleSpeed]+0.5))
		line(f.Time+10_000_000, 0x7E0, 0x30, 0, 0)
		line(f.Time+14_000_000, 0x7E8, 0x21, 0x42, byte(millivolts>>8), byte(millivolts))
	}
	return log
}

// captureOf writes the seconds from..to of a drive as a capture.
func captureOf(t *testing.T, drive scenario.Drive, from, to int64) []byte {
	t.Helper()
	var out bytes.Buffer
	w, err := pcapgo.NewNgWriterInterface(&out, pcapgo.NgInterface{Name: "can0", LinkType: layers.LinkType(227), TimestampResolution: 9},
		pcapgo.NgWriterOptions{SectionInfo: pcapgo.NgSectionInfo{Application: "Tallowmere"}})
	if err != nil {
		t.Fatal(err)
	}
	zero := int64(0)
	for f := range drive.Frames {
		if zero == 0 {
			zero = f.Time
		}
		if at := f.Time - zero; at < from*1e9 || at >= to*1e9 {
			continue
		}
		packet := make([]byte, 16)
		id := f.ID
		if f.Flags.Has(decode.Extended) {
			id |= 0x80000000
		}
		binary.BigEndian.PutUint32(packet, id)
		packet[4] = f.Len
		copy(packet[8:], f.Payload())
		about := gopacket.CaptureInfo{Timestamp: time.Unix(0, f.Time), CaptureLength: len(packet), Length: len(packet)}
		if err := w.WritePacket(about, packet); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}
