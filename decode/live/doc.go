// Package live reads frames as they arrive: from CAN interfaces of Linux, and from the
// stream of a log that is played for training and tests. It only reads; nothing in it can
// send a frame to a bus.
//
// If a source disappears, for example because a plug was pulled, the package waits for it
// to come back. Start with Listen.
package live
