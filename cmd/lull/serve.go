package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"lull/analyze/scenario"
	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/serve"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/sigmap"
	"lull/pkg/source"
)

// serveFlags are what `lull serve` takes.
type serveFlags struct {
	mapPath string
	port    int
	largest float64
	open    bool

	interfaces   []string // to be recorded
	out, bitrate string   // of the recording
}

func newServe(c *console) *cobra.Command {
	var flags serveFlags
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "serves a page on which a log can be dropped",
		Long: "Serves a page to the browser on this machine. Drop a log and its map on it, and it shows what lull report shows: the answer in words, every episode and every standstill as a story with its picture, " +
			"and why the engine ran on in some; a second log is held against the first. The report, PDF, csv, xlsx and json can be saved from it.\n" +
			"The page's address is printed; it has a secret part that changes with every start, so that nobody else on this machine can open it. " +
			"The server listens on 127.0.0.1 alone, needs no network and sends nothing anywhere. What is dropped lies in a private temporary folder (TMPDIR) until lull serve ends.\n" +
			"With --interface it records as lull record does, into a file that stays, and the page shows what happens as it happens: what the car does, each episode, standstill and finding as it ends, " +
			"what is missing, the last value of every signal. When the recording is ended, on the page, by its sources or by Ctrl-C, the summary is printed; until Ctrl-C the page measures it.",
		Example: "  lull serve\n" +
			"  lull serve --open --map car.yaml\n" +
			"  lull serve --interface can0 --map car.yaml\n" +
			"  lull serve --port 8123",
		Annotations: map[string]string{sectionExit: plainExitText, sectionCautions: cautionText},
		Args:        wants(0, 0, ""),
		RunE: func(cmd *cobra.Command, _ []string) error {
			quiet, _ := cmd.Flags().GetBool("quiet")
			return servePage(cmd.Context(), c, &flags, quiet)
		},
	}
	cmd.Flags().StringVar(&flags.mapPath, "map", "", "signal map, a YAML `FILE`, for logs that are dropped without one")
	cmd.Flags().StringArrayVar(&flags.interfaces, "interface", nil, "record the `SOURCE` of lull record, such as can0, and show it; may be given several times")
	cmd.Flags().StringVarP(&flags.out, "output", "o", "", "with --interface: record into `FILE`; left out: a name of date and time")
	cmd.Flags().StringVar(&flags.bitrate, "bitrate", "", "with --interface: show the load as a share of `RATE` in bit/s; left out: as the interface is set")
	cmd.Flags().IntVar(&flags.port, "port", 0, "listen on the port `N`; left out: any that is free")
	cmd.Flags().Float64Var(&flags.largest, "largest", 64, "refuse drops of more than `GB` at once")
	cmd.Flags().BoolVar(&flags.open, "open", false, "open the page in the browser")
	cmd.Flags().SortFlags = false
	return cmd
}

// memoryAim is what lull serve keeps to, in bytes, where what it holds allows that.
const memoryAim = 96 << 20

func servePage(ctx context.Context, c *console, flags *serveFlags, quiet bool) (err error) {
	if flags.port < 0 || flags.port > 65535 {
		return words.Misused("ports are 0 to 65535", "--port %d: no such port", flags.port)
	}
	if !(flags.largest > 0 && flags.largest <= 1e6) {
		return words.Misused("give a number of GB, for instance 64", "--largest %v: no such size", flags.largest)
	}
	if os.Getenv("GOMEMLIMIT") == "" && len(flags.interfaces) == 0 {
		// Pages and reports are made of much that is needed for a moment. It is cleared
		// away sooner rather than that the server grows beside the browser. A recording
		// may hold more for hours, and clearing would be all that is done.
		debug.SetMemoryLimit(memoryAim)
	}
	work := serve.Work{Version: version(), Measure: measureDrop, Free: source.Free, Demo: demoDrives(),
		Compare: func(before, after *words.Report, twoVehicles bool) (*words.CompareReport, error) {
			return measuring.Compared(before, after, measuring.How{TwoVehicles: twoVehicles})
		}}
	if flags.mapPath != "" {
		text, err := sigmap.Read(flags.mapPath)
		if err == nil {
			_, err = sigmap.Parse(flags.mapPath, text)
		}
		if err != nil {
			return err
		}
		work.Map, work.MapName = text, filepath.Base(flags.mapPath)
	}
	var recording *onPage
	switch {
	case len(flags.interfaces) > 0:
		var err error
		if recording, err = startOnPage(ctx, c, flags, quiet); err != nil {
			return err
		}
		work.Live, work.Map, work.MapName = recording.live, recording.mapText, recording.mapName
	case flags.out != "" || flags.bitrate != "":
		return words.Misused("say what to record with --interface", "-o and --bitrate are those of a recording")
	}
	server, err := serve.New(work, serve.Options{Port: flags.port, Largest: max(int64(flags.largest*1e9), 1)})
	if err != nil {
		if recording != nil {
			recording.abandon()
		}
		return notServed(err, flags.port)
	}
	defer func() {
		if closing := server.Close(); err == nil && closing != nil {
			err = &words.Failure{What: "what was dropped could not be removed: " + closing.Error(), Hint: "remove it by hand", Cause: closing}
		}
	}()
	if _, err := fmt.Fprintln(c.out, server.URL()); err != nil {
		if recording != nil {
			recording.abandon()
		}
		return &words.Failure{Where: "standard output", What: words.PlainError(err), Hint: "nobody would know the page's address", Cause: err}
	}
	if !quiet {
		ends := "the server"
		if recording != nil {
			ends = "the recording and the server"
		}
		fmt.Fprintf(c.err, "Open this address in a browser on this machine; Ctrl-C ends %s and removes what was dropped.\n", ends)
	}
	if flags.open {
		if err := openInBrowser(server.Invitation()); err != nil {
			report(c.err, &words.Failure{What: "no browser could be started: " + words.PlainError(err), Hint: "open the address yourself"})
		}
	}
	if recording != nil {
		return recording.serve(server, c, quiet)
	}
	return server.Run(ctx)
}

// notServed says why there is no page.
func notServed(err error, port int) error {
	var network *net.OpError
	if !errors.As(err, &network) {
		return &words.Failure{What: "the page cannot be served: " + words.PlainError(err), Hint: "check the folder for temporary files, TMPDIR", Cause: err}
	}
	f := &words.Failure{Where: fmt.Sprintf("port %d", port), What: words.PlainNetError(err), Hint: "leave --port out, and a free one is taken", Cause: err}
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		f.What = "another program listens on it"
	case errors.Is(err, syscall.EACCES):
		f.What = "it may not be opened by this user"
	}
	return f
}

// openInBrowser asks the system to show the page.
func openInBrowser(url string) error {
	name, args := "xdg-open", []string{url}
	switch runtime.GOOS {
	case "darwin":
		name = "open"
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", url}
	}
	cmd := exec.Command(name, args...)
	if err := cmd.Start(); err != nil {
		return err
	}
	go cmd.Wait() // how it ends is the browser's business
	return nil
}

// demoDrives are the logs of the demonstration, each with its map.
func demoDrives() []serve.Demo {
	var list []serve.Demo
	for _, f := range scenario.Files() {
		for _, d := range scenario.Drives() {
			if d.Name != f.Name {
				continue
			}
			name := strings.TrimSuffix(filepath.Base(d.Name), ".log")
			list = append(list, serve.Demo{Name: name, Title: d.Title, Log: f.Bytes, LogName: filepath.Base(d.Name),
				Map: func() []byte { return scenario.Map(d.Map) }, MapName: filepath.Base(d.Map)})
		}
	}
	return list
}

// measureDrop measures logs for the page as lull report does.
func measureDrop(ctx context.Context, m *decode.Map, logs []source.Input, told func(part float64)) (*page.Side, []string, error) {
	return measuring.Drop(ctx, version(), measuring.PageRoom, m, logs, told)
}
