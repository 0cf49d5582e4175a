package capture

import (
	"bytes"
	"encoding/binary"

	"lull/decode"
)

// record returns a frame as a record of link type 227, like libpcap.
func record(f *decode.Frame) []byte {
	size := classicMTU
	if f.Flags.Has(decode.FD) {
		size = headerSize + decode.MaxPayload
	}
	b := make([]byte, size)
	id := f.ID
	for flag, bit := range map[decode.Flags]uint32{decode.Extended: extendedBit, decode.Remote: remoteBit, decode.Error: errorBit} {
		if f.Flags.Has(flag) {
			id |= bit
		}
	}
	binary.BigEndian.PutUint32(b, id)
	b[4] = f.Len
	for flag, bit := range map[decode.Flags]byte{decode.FD: fdFDF, decode.BitRateSwitch: fdBRS, decode.ErrorStateIndicator: fdESI} {
		if f.Flags.Has(flag) {
			b[5] |= bit
		}
	}
	b[7] = f.RawDLC
	copy(b[8:], f.Payload())
	return b
}

// file builds captures byte by byte, following the drafts and not the code under test.
type file struct {
	bytes.Buffer
	order binary.ByteOrder
}

func (w *file) u16(v ...uint16) *file {
	for _, v := range v {
		binary.Write(w, w.order, v)
	}
	return w
}

func (w *file) u32(v ...uint32) *file {
	for _, v := range v {
		binary.Write(w, w.order, v)
	}
	return w
}

// newPcap begins a pcap file.
func newPcap(order binary.ByteOrder, magic, link uint32) *file {
	w := &file{order: order}
	return w.u32(magic).u16(2, 4).u32(0, 0, 262144, link)
}

// packet adds a record. size is its length on the interface.
func (w *file) packet(seconds, fraction uint32, data []byte, size int) *file {
	w.u32(seconds, fraction, uint32(len(data)), uint32(size)).Write(data)
	return w
}

// newNg begins a pcapng file.
func newNg(order binary.ByteOrder) *file {
	w := &file{order: order}
	return w.section()
}

// block adds a block.
func (w *file) block(kind uint32, body []byte) *file {
	padded := append(append([]byte{}, body...), make([]byte, -len(body)&3)...)
	n := uint32(len(padded) + 12)
	w.u32(kind, n).Write(padded)
	return w.u32(n)
}

func (w *file) body() *file { return &file{order: w.order} }

func (w *file) section(options ...option) *file {
	return w.block(0x0A0D0D0A, w.body().u32(0x1A2B3C4D).u16(1, 0).u32(^uint32(0), ^uint32(0)).options(options).Bytes())
}

type option struct {
	code  uint16
	value []byte
}

func (w *file) options(list []option) *file {
	for _, o := range list {
		w.u16(o.code, uint16(len(o.value))).Write(append(append([]byte{}, o.value...), make([]byte, -len(o.value)&3)...))
	}
	if len(list) > 0 {
		w.u16(0, 0)
	}
	return w
}

func (w *file) iface(link uint16, options ...option) *file {
	return w.block(1, w.body().u16(link, 0).u32(262144).options(options).Bytes())
}

func named(name string) option { return option{2, []byte(name)} }

func unit(v byte) option { return option{9, []byte{v}} }

// enhanced adds an enhanced packet block.
func (w *file) enhanced(iface uint32, stamp uint64, data []byte, size int, options ...option) *file {
	b := w.body().u32(iface, uint32(stamp>>32), uint32(stamp), uint32(len(data)), uint32(size))
	b.Write(append(append([]byte{}, data...), make([]byte, -len(data)&3)...))
	return w.block(6, b.options(options).Bytes())
}
