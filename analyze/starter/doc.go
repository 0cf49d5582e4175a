// Package starter adds up the starter operations of several logs of one vehicle
// against the car's own counter: what was seen, what was not, what count a new control
// module must be given, and how long the starter lasts at this rate.
//
// It reads Results and no frames. Start with New.
package starter
