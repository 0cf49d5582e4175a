package main

import (
	"io"
	"os"
	"time"

	"github.com/gopacket/gopacket"
	"github.com/gopacket/gopacket/layers"
	"github.com/gopacket/gopacket/pcapgo"

	"lull/decode/candump"
	"lull/decode/capture"
)

// canSocketCAN is the link type LINKTYPE_CAN_SOCKETCAN of the tcpdump group's registry.
const canSocketCAN layers.LinkType = 227

// packCapture writes the frames of a log beside it as a pcapng capture, as a recorder of
// network traffic writes it.
func packCapture(path string) (string, error) {
	in, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer in.Close()
	packed := path + ".pcapng"
	return packed, create(packed, func(file io.Writer) error {
		w, err := pcapgo.NewNgWriterInterface(file, pcapgo.NgInterface{Name: "can0", LinkType: canSocketCAN, SnapLength: 262144, TimestampResolution: 6}, pcapgo.DefaultNgWriterOptions)
		if err != nil {
			return err
		}
		log := candump.NewReader(in, candump.Options{})
		var record []byte
		for log.Scan() {
			f := log.Frame()
			record = capture.AppendRecord(record[:0], f)[:capture.ClassicRecord]
			about := gopacket.CaptureInfo{Timestamp: time.Unix(0, f.Time), CaptureLength: len(record), Length: len(record)}
			if err := w.WritePacket(about, record); err != nil {
				return err
			}
		}
		if err := log.Err(); err != nil {
			return err
		}
		return w.Flush()
	})
}
