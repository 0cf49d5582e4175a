// Command bench measures how fast lull reads logs, against two things that
// anyone can write in an hour: a composition of the standard library and a CAN
// library that reads the same log line by line, and a pass that only counts
// newlines. Every figure is the median of paired runs of whole processes, one
// after the other, given as a ratio, since machines differ and drift.
//
//	go run ./cmd/bench           all figures, on a log of about 1 GB
//	go run ./cmd/bench -mb 100   the same on a smaller one
//
// It writes its logs to a temporary folder and removes them.
package main

import (
	"flag"
	"fmt"
	"os"
	"strconv"
)

func main() {
	if len(os.Args) == 3 && os.Args[1] == "-reference" {
		exit(reference(os.Args[2]))
	}
	if len(os.Args) == 3 && os.Args[1] == "-newlines" {
		exit(newlines(os.Args[2]))
	}
	if len(os.Args) == 3 && os.Args[1] == "-unpack" {
		exit(unpack(os.Args[2]))
	}
	if len(os.Args) == 5 && os.Args[1] == "-write" {
		size, err := strconv.ParseInt(os.Args[3], 10, 64)
		if err == nil {
			err = writeLog(os.Args[2], size, os.Args[4])
		}
		exit(err)
	}
	mb := flag.Int("mb", 1000, "size of the log in MB")
	runs := flag.Int("runs", 5, "paired runs of each command")
	folder := flag.String("dir", os.TempDir(), "where the logs are written")
	large := flag.Bool("large", true, "with the logs of a tenth, five and ten times the size, for memory and scaling")
	flag.Parse()
	exit(measure(plan{megabytes: *mb, runs: *runs, folder: *folder, large: *large}))
}

func exit(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
	os.Exit(0)
}
