//go:build linux || darwin

package main

import (
	"os"
	"runtime"
	"syscall"
)

// peak is the most memory that a finished process held, in MiB.
func peak(s *os.ProcessState) float64 {
	usage, ok := s.SysUsage().(*syscall.Rusage)
	if !ok {
		return 0
	}
	if runtime.GOOS == "darwin" {
		return float64(usage.Maxrss) / (1 << 20) // bytes there
	}
	return float64(usage.Maxrss) / (1 << 10)
}
