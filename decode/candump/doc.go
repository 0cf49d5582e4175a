// Package candump reads and writes the text logs of can-utils: the log form of `candump
// -l` and the console form that candump prints. The two may be mixed line by line. The
// package returns decode.Frames and never interprets payloads. It opens no files, and keeps
// no more than one line and, at most, the first thousand frames in memory.
//
// A bad line is counted with its reason and place, and reading goes on; only an error of
// the underlying reader ends it. Start with Reader.
//
// Both forms are those of linux-can/can-utils (lib.h, lib.c, candump.c at commit
// 95aae6bf, 2026-05-12), the frame identifiers those of linux/can.h.
package candump
