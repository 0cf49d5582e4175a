package main

import (
	"encoding/binary"
	"io"
	"os"
	"time"

	"github.com/gopacket/gopacket"
	"github.com/gopacket/gopacket/layers"
	"github.com/gopacket/gopacket/pcapgo"

	"lull/decode"
	"lull/decode/candump"
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
	return packed, create(packed, func(w io.Writer) error {
		capture, err := pcapgo.NewNgWriterInterface(w, pcapgo.NgInterface{Name: "can0", LinkType: canSocketCAN, SnapLength: 262144, TimestampResolution: 6}, pcapgo.DefaultNgWriterOptions)
		if err != nil {
			return err
		}
		log := candump.NewReader(in, candump.Options{})
		record := make([]byte, 16) // of a classic frame, as Linux passes it on
		for log.Scan() {
			f := log.Frame()
			id := f.ID
			if f.Flags.Has(decode.Extended) {
				id |= 1 << 31
			}
			clear(record)
			binary.BigEndian.PutUint32(record, id)
			record[4] = f.Len
			copy(record[8:], f.Payload())
			about := gopacket.CaptureInfo{Timestamp: time.Unix(0, f.Time), CaptureLength: len(record), Length: len(record)}
			if err := capture.WritePacket(about, record); err != nil {
				return err
			}
		}
		if err := log.Err(); err != nil {
			return err
		}
		return capture.Flush()
	})
}
