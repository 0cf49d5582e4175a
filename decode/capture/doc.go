// Package capture reads CAN frames out of packet captures: pcap and pcapng files
// with link type 227 (LINKTYPE_CAN_SOCKETCAN), as tcpdump, dumpcap and Wireshark
// write them on a CAN interface. It gives decode.Frames and never looks into
// payloads, opens no file and holds no more than one packet.
//
// A bad packet is counted with its reason and number and reading goes on. What
// breaks the order of the file's blocks ends it: all before that is read, and a
// remark says so. Start with Reader.
//
// The files are taken apart by pcapgo (github.com/gopacket/gopacket). It trusts
// lengths, keeps what it reads of names, comments and keys, and has no exact
// clock for units that are powers of two; so it is given, block by block, only
// what was found sound before (gate), and such times are computed here.
//
// The layouts are those of draft-ietf-opsawg-pcap, draft-ietf-opsawg-pcapng and
// the registry of link types at tcpdump.org, the identifiers those of
// linux/can.h.
package capture
