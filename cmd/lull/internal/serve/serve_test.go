package serve

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"net/textproto"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode"

	"lull/analyze/compare"
	"lull/analyze/onelog"
	"lull/analyze/trace"
	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/sample/driven"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/candump"
	"lull/pkg/source"
)

// stops is a log of an engine that runs, rests for so many tenths of a second, and
// runs again.
func stops(tenths int) string {
	var car driven.CarLog
	car.Hold(800, 0, 2000)
	car.Hold(400, 1, 200)
	car.Hold(0, 1, 100*tenths)
	car.Hold(250, 0, 200)
	car.Hold(800, 0, 2000)
	return car.String()
}

// offFor is how long the engine is off in such a log, to 0.01 s: it is below running
// speed for 0.2 s more on either side.
func offFor(tenths int) float64 { return float64(tenths)/10 + 0.4 }

// measured is the least that stands for lull's own measuring.
func measured(ctx context.Context, m *decode.Map, logs []source.Input, told func(float64)) (*page.Side, []string, error) {
	side := &page.Side{Report: &words.Report{Version: "1.0", Map: m}}
	for _, in := range logs {
		hash := ""
		read := func(use func(*decode.Frame)) (info decode.Info, err error) {
			file, err := source.Open(in, nil, source.WithSHA256())
			if err != nil {
				return info, err
			}
			defer file.Close()
			r := candump.NewReader(file, candump.Options{})
			for r.Scan() {
				use(r.Frame())
			}
			hash = file.SHA256()
			return r.Info(), errors.Join(r.Err(), ctx.Err())
		}
		run := onelog.NewRun(m)
		info, err := read(func(f *decode.Frame) { run.Push(f) })
		if err != nil {
			return nil, nil, err
		}
		if info.Accepted == 0 {
			return nil, nil, errors.New(in.Name + ": holds no frame")
		}
		told(0.5)
		result := run.Finish(info)
		drawn := page.Everything(result)
		tracer := trace.New(m, result, drawn.Windows(result))
		if _, err := read(func(f *decode.Frame) { tracer.Push(f) }); err != nil {
			return nil, nil, err
		}
		side.Logs = append(side.Logs, words.Log{Name: in.Name, SHA256: hash, Bytes: 1, Result: result})
		side.Traces = append(side.Traces, drawn.Traces(result, tracer.Finish()))
	}
	told(1)
	return side, []string{"a remark"}, nil
}

// site is a server under test.
type site struct {
	*Server
	t   testing.TB
	end context.CancelFunc
	ran chan error
}

// serving starts a server; change may alter it before the first request.
func serving(t testing.TB, o Options, change func(*Server)) *site {
	t.Helper()
	t.Setenv("TMPDIR", t.TempDir())
	t.Setenv("TMP", os.Getenv("TMPDIR"))
	s, err := New(Work{
		Version: "1.0",
		Measure: measured,
		Draft: func(ctx context.Context, logs []source.Input, before *measuring.Drafted, c measuring.Choices, told func(float64)) (*measuring.Drafted, error) {
			return measuring.DraftDrop(ctx, "1.0", measuring.DraftRoom, logs, before, c, told)
		},
		Compare: func(before, after *words.Report, _ bool) (*words.CompareReport, error) {
			if before.Map.SHA256 == after.Map.SHA256 {
				after.Map = before.Map
			}
			b, a := words.SideOf(before), words.SideOf(after)
			if name, _, twice := compare.SameLog(b, a); twice {
				return nil, errors.New(name + ": is on both sides")
			}
			return &words.CompareReport{Version: "1.0", Before: before.Map, After: after.Map, Comparison: compare.New(b, a, compare.ByNothing)}, nil
		},
		Free: func(string) (int64, error) { return 1 << 40, nil },
		Demo: []Demo{{Name: "short", Title: "a short drive", LogName: "short.log", MapName: "map.yaml",
			Log: func() []byte { return []byte(stops(20)) }, Map: func() []byte { return []byte(driven.CarMap) }}},
	}, o)
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(s)
	}
	ctx, end := context.WithCancel(context.Background())
	x := &site{Server: s, t: t, end: end, ran: make(chan error, 1)}
	go func() { x.ran <- s.Run(ctx) }()
	t.Cleanup(func() {
		end()
		if err := <-x.ran; err != nil {
			t.Error(err)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		if left, err := filepath.Glob(filepath.Join(os.Getenv("TMPDIR"), rootPattern)); len(left) > 0 || err != nil {
			t.Errorf("left behind: %v, %v", left, err)
		}
	})
	return x
}

// part is a part of a drop.
type part struct{ field, name, text string }

// form sets parts as a browser does.
func form(parts ...part) (kind string, body []byte) {
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for _, p := range parts {
		var to io.Writer
		if strings.ContainsFunc(p.name, unicode.IsControl) { // RFC 5987
			to, _ = w.CreatePart(textproto.MIMEHeader{"Content-Disposition": {mime.FormatMediaType("form-data", map[string]string{"name": p.field, "filename": p.name})}})
		} else if p.name != "" {
			to, _ = w.CreateFormFile(p.field, p.name)
		} else {
			to, _ = w.CreateFormField(p.field)
		}
		_, _ = io.WriteString(to, p.text) // a buffer takes all
	}
	_ = w.Close()
	return w.FormDataContentType(), b.Bytes()
}

// request is one as the page's own script makes it.
func (x *site) request(ctx context.Context, method, path, kind string, body io.Reader) *http.Request {
	x.t.Helper()
	r, err := http.NewRequestWithContext(ctx, method, strings.TrimSuffix(x.URL(), "/")+path, body)
	if err != nil {
		x.t.Fatal(err)
	}
	r.Header.Set("Origin", "http://"+x.listener.Addr().String())
	if kind != "" {
		r.Header.Set("Content-Type", kind)
	}
	return r
}

// answer is what came back.
type answer struct {
	*http.Response
	text string
}

// do sends a request and follows no redirection.
func (x *site) do(r *http.Request) *answer {
	x.t.Helper()
	a, err := try(r)
	if err != nil {
		x.t.Fatal(err)
	}
	return a
}

func try(r *http.Request) (*answer, error) {
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	response, err := client.Do(r)
	if err != nil {
		return nil, err
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	return &answer{response, string(text)}, err
}

func (x *site) get(path string) *answer {
	x.t.Helper()
	return x.do(x.request(context.Background(), http.MethodGet, path, "", nil))
}

func (x *site) drop(parts ...part) *answer {
	x.t.Helper()
	kind, body := form(parts...)
	return x.do(x.request(context.Background(), http.MethodPost, "/drives", kind, bytes.NewReader(body)))
}

// dropped drops parts that are to be measured and gives the path of the result.
func (x *site) dropped(parts ...part) string {
	x.t.Helper()
	a := x.drop(parts...)
	if a.StatusCode != http.StatusSeeOther {
		x.t.Fatalf("status %d: %s", a.StatusCode, a.text)
	}
	return strings.TrimPrefix(a.Header.Get("Location"), x.base())
}

// lines are what the script was told.
func lines(t testing.TB, text string) []line {
	t.Helper()
	var list []line
	for one := range strings.Lines(text) {
		var l line
		if err := json.Unmarshal([]byte(one), &l); err != nil {
			t.Fatalf("%q: %v", one, err)
		}
		list = append(list, l)
	}
	return list
}

// drops are the folders of drops that lie there.
func (x *site) drops() []string {
	x.t.Helper()
	list, err := filepath.Glob(filepath.Join(x.store.root, "drop-*"))
	if err != nil {
		x.t.Fatal(err)
	}
	return list
}

// until waits for something that happens soon.
func until(t testing.TB, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(2 * time.Minute); !is(); time.Sleep(2 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("never: %s", what)
		}
	}
}
