// Package capture reads CAN frames from packet captures: pcap and pcapng files with link
// type 227 (LINKTYPE_CAN_SOCKETCAN), which tcpdump, dumpcap and Wireshark write for a CAN
// interface. It returns decode.Frames and never interprets payloads. It opens no files, and
// keeps no more than one packet in memory.
//
// A bad packet is counted with its reason and number, and reading goes on. Damage to the
// sequence of blocks ends reading: everything before it is read, and a remark says so. Start
// with Reader.
//
// What a block says of lengths is checked before it is believed, names and comments are not
// kept, and times in any unit that fits are exact to a nanosecond.
//
// The layouts are those of draft-ietf-opsawg-pcap, draft-ietf-opsawg-pcapng and the registry
// of link types at tcpdump.org, the identifiers those of linux/can.h.
package capture
