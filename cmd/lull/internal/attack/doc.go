// Package attack holds nothing but tests that do to the program what an enemy, a
// thoughtless colleague or a dying laptop would do. They run it as it is built, from
// outside, on Linux, with the tag attack: `make attack`. Everything happens on the
// loopback interface and in temporary folders, the same way each time.
package attack
