// Package transport puts messages together that were sent in several CAN frames
// by ISO 15765-2: single, first and consecutive frames, with classic and CAN FD
// lengths. It reads what others said to each other and never takes part: flow
// control frames are passed over. It knows neither a frame of a log nor a signal
// map, only payloads, who sent them, and when. Start with Reassembler.
package transport
