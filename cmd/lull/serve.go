package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"slices"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"lull/analyze/compare"
	"lull/analyze/scenario"
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
		Long: "Serves a page to the browser on this machine. Drop a log and its map on it, and it shows what lull report shows: the answer in words, every episode as a story with its picture, " +
			"the standstills and why the engine ran on in some; a second log is held against the first. The report, PDF, csv, xlsx and json can be saved from it.\n" +
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
		return misuse("ports are 0 to 65535", "--port %d: no such port", flags.port)
	}
	if !(flags.largest > 0 && flags.largest <= 1e6) {
		return misuse("give a number of GB, for instance 64", "--largest %v: no such size", flags.largest)
	}
	if os.Getenv("GOMEMLIMIT") == "" {
		// Pages and reports are made of much that is needed for a moment. It is cleared
		// away sooner rather than that the server grows beside the browser.
		debug.SetMemoryLimit(memoryAim)
	}
	work := serve.Work{Version: version(), Measure: measureDrop, Free: source.Free, Demo: demoDrives(),
		Compare: func(before, after *words.Report) (*words.CompareReport, error) {
			return compared(before, after, compare.ByNothing)
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
		return misuse("say what to record with --interface", "-o and --bitrate are those of a recording")
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
			err = &failure{what: "what was dropped could not be removed: " + closing.Error(), hint: "remove it by hand", cause: closing}
		}
	}()
	if _, err := fmt.Fprintln(c.out, server.URL()); err != nil {
		if recording != nil {
			recording.abandon()
		}
		return &failure{where: "standard output", what: plainError(err), hint: "nobody would know the page's address", cause: err}
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
			report(c.err, &failure{what: "no browser could be started: " + plainError(err), hint: "open the address yourself"})
		}
	}
	if recording != nil {
		return recording.serve(server)
	}
	return server.Run(ctx)
}

// notServed says why there is no page.
func notServed(err error, port int) error {
	var network *net.OpError
	if !errors.As(err, &network) {
		return &failure{what: "the page cannot be served: " + plainError(err), hint: "check the folder for temporary files, TMPDIR", cause: err}
	}
	f := &failure{where: fmt.Sprintf("port %d", port), what: plainNetError(err), hint: "leave --port out, and a free one is taken", cause: err}
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		f.what = "another program listens on it"
	case errors.Is(err, syscall.EACCES):
		f.what = "it may not be opened by this user"
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

// mostOnPage is what the page has room for. What is found in a log grows with it, and
// in one that was made to, or under a wrong map, without end.
var mostOnPage = room{episodes: 5000, heap: 512 << 20}

// room bounds what may be found in the logs of one drop.
type room struct {
	episodes int
	heap     uint64 // bytes of everything that lull holds meanwhile
}

// errNoRoom: more was found than the page has room for.
var errNoRoom = errors.New("more was found in this than a page can show; check the map, or measure it with lull episodes")

// measureDrop measures logs for the page as lull report does. What it would say
// on the terminal comes as remarks.
func measureDrop(ctx context.Context, m *decode.Map, logs []source.Input, told func(part float64)) (*page.Side, []string, error) {
	return measureWithin(ctx, mostOnPage, m, logs, told)
}

func measureWithin(ctx context.Context, most room, m *decode.Map, logs []source.Input, told func(part float64)) (*page.Side, []string, error) {
	asked := ctx
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	var said bytes.Buffer
	c := &console{in: strings.NewReader(""), out: io.Discard, err: &said, width: defaultWidth}
	j := &job{c: c, m: m, inputs: slices.Clone(logs), mostEpisodes: most.episodes}
	source.SortByStart(j.inputs, j.starts(ctx))
	var total int64
	for _, in := range j.inputs {
		if info, err := os.Stat(in.Path); err == nil {
			total += 2 * info.Size() // each is read twice
		}
	}
	var read int64
	j.told = func(more int64) {
		read += more
		told(min(float64(read)/float64(max(total, 1)), 1))
		if heap() > most.heap {
			stop(errNoRoom)
		}
	}
	side, _, err := pictured(ctx, j)
	if err != nil && asked.Err() == nil && context.Cause(ctx) == errNoRoom {
		return nil, nil, errNoRoom
	}
	// Where a log lies here is nothing to whoever dropped it.
	var names []string
	for _, in := range logs {
		names = append(names, in.Path, in.Name)
	}
	named := strings.NewReplacer(names...)
	var remarks []string
	for text := range strings.Lines(said.String()) {
		remarks = append(remarks, named.Replace(strings.TrimPrefix(strings.TrimSpace(text), "lull: ")))
	}
	switch {
	case errors.Is(err, errBlind):
		return nil, nil, &serve.Misfit{Text: strings.Join(remarks, "\n")}
	case errors.Is(err, errReported):
		return nil, nil, errors.New(strings.Join(remarks, "\n"))
	case err != nil && ctx.Err() == nil:
		return nil, remarks, errors.New(named.Replace(err.Error()))
	}
	return side, remarks, err
}

// heap is how many bytes lull holds, what is not collected yet included.
func heap() uint64 {
	sample := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
	metrics.Read(sample)
	return sample[0].Value.Uint64()
}
