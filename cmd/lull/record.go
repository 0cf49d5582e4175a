package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/live"
	"lull/pkg/source"
)

func newRecord(c *console) *cobra.Command {
	var flags recordFlags
	cmd := &cobra.Command{
		Use:   "record SOURCE...",
		Short: "records a drive and shows every episode as it ends",
		Long: "Writes a log in candump's form from live CAN interfaces, all of them into one file, and sends nothing to any bus. With a map it shows each " +
			"episode, standstill and finding as soon as it is known, says within ten seconds what is missing, and at the end (Ctrl-C) prints what lull episodes prints. " +
			"The same frames give the same result live and from the log.\n" +
			"What was recorded is on the disk within a second, whatever happens then; the file only grows, and none is ever written over, nor recorded into by two. " +
			"An interface that goes away is waited for.\n" +
			"SOURCE is an interface of Linux (can0), or the socket of lull replay (unix:PATH, tcp:HOST:PORT). CAN FD and error frames are recorded too, with " +
			"the kernel's time stamps. Set interfaces listen-only: else their controller acknowledges frames, and with a wrong bit rate disturbs the bus.",
		Example: "  lull record can0 --map car.yaml\n" +
			"  lull record can0 can1 --map car.yaml -o drive.log.zst\n" +
			"  lull record unix:car.sock --map map.yaml",
		Annotations: map[string]string{
			sectionFormats: "The log: candump's log form with microseconds; packed by zstd where the name ends in .zst, readable also where it is cut off. " +
				"Left out: lull-YYYY-MM-DD_HHMMSS.log here. -o - writes it to standard output, and what is shown to standard error.\n" +
				"On a terminal what is on the bus and what the signals say is shown below the lines; elsewhere a line every ten seconds.",
			sectionExit:     exitText,
			sectionCautions: "Two people in the car: one drives, one looks at the screen.\n" + cautionText,
		},
		Args: wants(1, -1, "the source"),
	}
	cmd.Flags().StringVarP(&flags.out, "output", "o", "", "record into `FILE`; left out: a name of date and time")
	cmd.Flags().StringVar(&flags.mapPath, "map", "", "signal map, a YAML `FILE`; left out: map.yaml beside the log, if there is one")
	cmd.Flags().StringVar(&flags.bus, "bus", "", "decode only frames of the interface `NAME`; all are recorded")
	cmd.Flags().StringVar(&flags.bitrate, "bitrate", "", "show the load as a share of `RATE` in bit/s, such as 500k; left out: as the interface is set")
	cmd.Flags().BoolVar(&flags.check, "check", false, "end with status 3 where a limit of the map is broken")
	cmd.Flags().SortFlags = false
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		flags.quiet, _ = cmd.Flags().GetBool("quiet")
		return record(cmd.Context(), c, &flags, args)
	}
	return cmd
}

type recordFlags struct {
	out, mapPath, bus, bitrate string
	check, quiet               bool
}

// record is the command: it records until the sources end or the user does.
func record(ctx context.Context, c *console, flags *recordFlags, args []string) error {
	r, receiver, err := startRecording(ctx, c, flags, args)
	if err != nil {
		return err
	}
	defer receiver.Close()
	return r.run(ctx, receiver)
}

// startRecording opens what is recorded and what is recorded into.
func startRecording(ctx context.Context, c *console, flags *recordFlags, args []string) (*recorder, *live.Receiver, error) {
	signal.Ignore(syscall.SIGPIPE) // it goes on where who reads what is shown goes away
	rate, err := parseBitrate(flags.bitrate)
	if err != nil {
		return nil, nil, err
	}
	sources, err := addresses(args)
	if err != nil {
		return nil, nil, err
	}
	m, mapPath, err := recordMap(flags)
	if err != nil {
		return nil, nil, err
	}
	if m == nil && flags.check {
		return nil, nil, words.Misused("name one with --map", "--check: there is no map with limits")
	}
	path, file, err := createLog(flags.out, time.Now())
	if err != nil {
		return nil, nil, err
	}
	r := newRecorder(c, flags, m, path, file)
	r.sources, r.rate, r.mapPath = sources, rate, mapPath
	return r, live.Listen(ctx, sources), nil
}

func addresses(args []string) ([]live.Address, error) {
	var list []live.Address
	for _, arg := range args {
		a, err := live.ParseAddress(arg)
		var e *live.Error
		switch {
		case errors.As(err, &e):
			return nil, words.Misused(e.Hint, "%s: %s", e.Source, e.Why)
		case a.Network == live.CAN && isLog(arg):
			return nil, words.Misused("to measure it: lull episodes "+arg, "%s: a log, not a source", arg)
		case slices.Contains(list, a):
			return nil, words.Misused("name each source once", "%s: named twice", arg)
		}
		list = append(list, a)
	}
	return list, nil
}

// isLog tells whether an argument is a file rather than an interface, whose names
// are short and without slashes.
func isLog(arg string) bool {
	info, err := os.Stat(arg)
	return err == nil && !info.IsDir() || strings.ContainsAny(arg, `/\`)
}

// recordMap reads the map that was named, the one beside the log, or the one in the
// folder that lull runs in, and says where it lies; nil where there is none.
func recordMap(flags *recordFlags) (*decode.Map, string, error) {
	beside := flags.out
	if beside == "" || beside == "-" {
		beside = "drive.log"
	}
	m, path, err := measuring.LoadMap(flags.mapPath, []string{beside})
	if errors.Is(err, measuring.ErrNoMap) {
		m, path, err = measuring.LoadMap("", []string{"drive.log"})
	}
	if errors.Is(err, measuring.ErrNoMap) {
		return nil, "", nil
	}
	if err != nil {
		return nil, "", err
	}
	return measuring.OnlyBus(m, flags.bus), path, nil
}

// createLog opens what is recorded into: the file that was named, or a new one whose
// name is made of date and time, as candump's are.
func createLog(path string, now time.Time) (string, *source.Growing, error) {
	if path != "" {
		file, err := source.Create(path)
		return path, file, err
	}
	stem := "lull-" + now.Format("2006-01-02_150405")
	for n := 1; ; n++ {
		name := stem + ".log"
		if n > 1 {
			name = fmt.Sprintf("%s-%d.log", stem, n)
		}
		file, err := source.CreateNew(name)
		if !errors.Is(err, fs.ErrExist) && !errors.Is(err, source.ErrLocked) {
			return name, file, err
		}
	}
}

// folderOf is the folder whose disk a file lies on; "" where it is no file.
func folderOf(path string) string {
	if path == "-" {
		return ""
	}
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return ""
	}
	return filepath.Dir(path)
}
