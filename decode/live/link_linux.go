package live

import (
	"encoding/binary"
	"fmt"
	"iter"
	"syscall"

	"golang.org/x/sys/unix"
)

// Links returns the CAN interfaces of the system. It asks the kernel's routing interface
// (rtnetlink) and sends nothing to any bus.
func Links() ([]Link, error) {
	answer, err := syscall.NetlinkRIB(syscall.RTM_GETLINK, syscall.AF_UNSPEC)
	if err != nil {
		return nil, fmt.Errorf("listing interfaces: %w", err)
	}
	return parseLinks(answer)
}

// attributes iterates over a list of netlink attributes (linux/netlink.h), each made of two
// bytes length, two bytes kind, and the value, padded to four bytes.
func attributes(list []byte) iter.Seq2[uint16, []byte] {
	return func(yield func(uint16, []byte) bool) {
		for len(list) >= 4 {
			length := int(binary.NativeEndian.Uint16(list))
			if length < 4 || length > len(list) {
				return
			}
			const nested = 0x8000 // NLA_F_NESTED
			if !yield(binary.NativeEndian.Uint16(list[2:])&^nested, list[4:length]) {
				return
			}
			list = list[min(len(list), (length+3)&^3):]
		}
	}
}

// parseLinks parses the answer to RTM_GETLINK.
func parseLinks(answer []byte) ([]Link, error) {
	messages, err := syscall.ParseNetlinkMessage(answer)
	if err != nil {
		return nil, err
	}
	var links []Link
	for _, m := range messages {
		if m.Header.Type != syscall.RTM_NEWLINK || len(m.Data) < unix.SizeofIfInfomsg {
			continue
		}
		if binary.NativeEndian.Uint16(m.Data[2:]) != unix.ARPHRD_CAN {
			continue
		}
		l := Link{Up: binary.NativeEndian.Uint32(m.Data[8:])&unix.IFF_UP != 0}
		for kind, value := range attributes(m.Data[unix.SizeofIfInfomsg:]) {
			switch kind {
			case unix.IFLA_IFNAME:
				l.Name = text(value)
			case unix.IFLA_LINKINFO:
				l.about(value)
			}
		}
		links = append(links, l)
	}
	return links, nil
}

// about sets what the driver tells of the interface (linux/can/netlink.h).
func (l *Link) about(info []byte) {
	for kind, value := range attributes(info) {
		switch kind {
		case unix.IFLA_INFO_KIND:
			l.Kind = text(value)
		case unix.IFLA_INFO_DATA:
			for kind, value := range attributes(value) {
				switch {
				case kind == unix.IFLA_CAN_BITTIMING && len(value) >= 4:
					l.Bitrate = binary.NativeEndian.Uint32(value)
				case kind == unix.IFLA_CAN_CTRLMODE && len(value) >= 8:
					l.Known = true
					l.ListenOnly = binary.NativeEndian.Uint32(value[4:])&unix.CAN_CTRLMODE_LISTENONLY != 0
				}
			}
		}
	}
}

// text returns the string in value, which may end with a zero byte.
func text(value []byte) string {
	for i, c := range value {
		if c == 0 {
			return string(value[:i])
		}
	}
	return string(value)
}
