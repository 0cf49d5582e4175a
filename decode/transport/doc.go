// Package transport reassembles messages that were sent in several CAN frames according to
// ISO 15765-2: single, first and consecutive frames, with classic and CAN FD lengths. It
// only listens to what others send, so it ignores flow control frames. It knows nothing of
// logs and signal maps, only payloads, their senders, and their times. Start with
// Reassembler.
package transport
