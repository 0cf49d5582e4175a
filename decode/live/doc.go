// Package live reads frames while they come: from a CAN interface of Linux, and
// from the stream by which a log is played for training and tests. It only reads;
// nothing in it could send a frame to a bus. It writes no log and measures nothing.
//
// A source that goes away, as a plug that is pulled, is waited for and read on.
// Start with Listen.
package live
