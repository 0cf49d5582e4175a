// Package candump reads and writes the text logs of can-utils: the log form of
// `candump -l` and the console form that candump prints, line by line and mixed
// as they come. It gives decode.Frames and never looks into payloads, opens no
// file and holds no more than a line and, at most, the first thousand frames.
//
// A bad line is counted with its reason and place and reading goes on; only a
// fault of the underlying reader ends it. Start with Reader.
//
// Both forms are those of linux-can/can-utils (lib.h, lib.c, candump.c at commit
// 95aae6bf, 2026-05-12), the frame identifiers those of linux/can.h.
package candump
