// Package browser opens the pages of lull serve in a real browser. It is for the
// tests that use the page as people do and for the pictures of it, and is no part of
// lull. Start with Find and Start.
package browser

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"sync"
	"time"

	"github.com/chromedp/cdproto/audits"
	devtools "github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// ErrNone is returned if no browser is installed.
var ErrNone = errors.New("no chromium is installed (Debian: chromium)")

// Patience bounds how long Until waits. On a machine that is busy with other things, what
// takes longer hangs.
const Patience = 2 * time.Minute

// Find looks for the browser in the path. The error is ErrNone.
func Find() (string, error) {
	for _, name := range []string{"chromium", "chromium-browser"} {
		if path, err := exec.LookPath(name); err == nil {
			return path, nil
		}
	}
	return "", ErrNone
}

// Browser is a browser without a window, with a profile of its own that goes when it
// ends.
type Browser struct {
	ctx    context.Context
	cancel []context.CancelFunc
}

// Start starts the browser at a path.
func Start(path string) (*Browser, error) {
	options := append(chromedp.DefaultExecAllocatorOptions[:len(chromedp.DefaultExecAllocatorOptions):len(chromedp.DefaultExecAllocatorOptions)],
		chromedp.ExecPath(path))
	if os.Geteuid() == 0 {
		options = append(options, chromedp.NoSandbox) // which root cannot have
	}
	allocator, stop := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, cancel := chromedp.NewContext(allocator)
	b := &Browser{ctx: ctx, cancel: []context.CancelFunc{cancel, stop}}
	if err := chromedp.Do(ctx); err != nil { // starts it
		b.Close()
		return nil, fmt.Errorf("%s does not start: %w", path, err)
	}
	return b, nil
}

// Close ends the browser.
func (b *Browser) Close() {
	for _, cancel := range b.cancel {
		cancel()
	}
}

// Tab is a tab, which shares nothing with others. It keeps what the browser
// complains of: what scripts say or fail at, what the content policy forbids, dialogs.
type Tab struct {
	ctx      context.Context
	cancel   context.CancelFunc
	patience time.Duration

	mu         sync.Mutex
	complaints []string
}

// Open opens a tab of a width and height in CSS pixels, light or dark.
func (b *Browser) Open(width, height int64, dark bool) (*Tab, error) {
	t := &Tab{patience: Patience}
	t.ctx, t.cancel = chromedp.NewContext(b.ctx, chromedp.WithNewBrowserContext())
	err := chromedp.Listen(t.ctx, t.hear)
	if err == nil {
		err = t.Do(call(audits.Enable, cdp.Empty{}))
	}
	if err == nil {
		err = t.Look(width, height, dark)
	}
	if err != nil {
		t.cancel()
		return nil, err
	}
	return t, nil
}

// Look sets the tab's width, height and colours.
func (t *Tab) Look(width, height int64, dark bool) error {
	scheme := "light"
	if dark {
		scheme = "dark"
	}
	return t.Do(chromedp.EmulateViewport(width, height), call(emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}))
}

// Close closes the tab.
func (t *Tab) Close() { t.cancel() }

// SaveInto has the browser save files in a folder, without asking.
func (t *Tab) SaveInto(folder string) error {
	_, err := chromedp.CallBrowser(t.ctx, devtools.SetDownloadBehavior, devtools.SetDownloadBehaviorParams{
		Behavior: devtools.SetDownloadBehaviorBehaviorAllow, BrowserContextID: chromedp.FromContext(t.ctx).BrowserContextID, DownloadPath: folder})
	return err
}

// Do does things in the tab, one after the other, each within Patience.
func (t *Tab) Do(actions ...chromedp.Action[chromedp.Void]) error {
	ctx, cancel := context.WithTimeout(t.ctx, t.patience)
	defer cancel()
	return chromedp.Do(ctx, actions...)
}

// call returns a command of the devtools protocol as an action.
func call[P, R any](command cdp.Command[P, R], params P) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		_, err := cdp.Call(ctx, target, command, params)
		return err
	})
}

// Send sends a command of the devtools protocol.
func Send[P, R any](t *Tab, command cdp.Command[P, R], params P) error {
	return t.Do(call(command, params))
}

// Value evaluates an expression of the page's script language; a promise is awaited.
func Value[T any](t *Tab, expression string) (T, error) {
	ctx, cancel := context.WithTimeout(t.ctx, t.patience)
	defer cancel()
	return chromedp.Run(ctx, chromedp.Evaluate[T](expression, awaited))
}

func awaited(p *runtime.EvaluateParams) {
	wait := true
	p.AwaitPromise = &wait
}

// Print prints the page on paper of a width and height in inches, as PDF.
func (t *Tab) Print(width, height float64) ([]byte, error) {
	ctx, cancel := context.WithTimeout(t.ctx, t.patience)
	defer cancel()
	var pdf []byte
	err := chromedp.Do(ctx, chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		printed, err := cdp.Call(ctx, target, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: width, PaperHeight: height})
		if err == nil {
			pdf = printed.Data
		}
		return err
	}))
	return pdf, err
}

// Until waits until an expression is true. It is evaluated again and again, even while one
// page replaces another.
func (t *Tab) Until(expression string) error {
	var last error
	for end := time.Now().Add(t.patience); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		holds, err := Value[bool](t, "!!("+expression+")")
		if holds && err == nil {
			return nil
		}
		last = err
	}
	if last != nil {
		return fmt.Errorf("waited in vain for %s: %w", expression, last)
	}
	return fmt.Errorf("waited in vain for %s", expression)
}

// Complaints are what the browser complained of, in order.
func (t *Tab) Complaints() []string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return append([]string(nil), t.complaints...)
}

// hear receives all events of the tab. It must not block.
func (t *Tab) hear(event any) {
	said := ""
	switch e := event.(type) {
	case *runtime.EventConsoleAPICalled:
		var words []string // of the page's script, which has none to say
		for _, a := range e.Args {
			words = append(words, string(a.Value)+a.Description)
		}
		said = "console: " + strings.Join(words, " ")
	case *runtime.EventExceptionThrown:
		said = "script: " + (&chromedp.ExceptionError{ExceptionDetails: e.ExceptionDetails}).Error()
	case *log.EventEntryAdded:
		if e.Entry.Level != log.EntryLevelError && e.Entry.Level != log.EntryLevelWarning {
			return
		}
		said = fmt.Sprintf("%s: %s", e.Entry.Source, e.Entry.Text)
	case *audits.EventIssueAdded:
		d := e.Issue.Details.ContentSecurityPolicyIssueDetails
		if d == nil {
			return
		}
		said = fmt.Sprintf("content policy: %s forbids %s", d.ViolatedDirective, d.BlockedURL)
	case *page.EventJavascriptDialogOpening:
		said = "dialog: " + e.Message
		go func() { _ = t.Do(call(page.HandleJavaScriptDialog, page.HandleJavaScriptDialogParams{})) }()
	default:
		return
	}
	t.mu.Lock()
	t.complaints = append(t.complaints, said)
	t.mu.Unlock()
}
