package main

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"lull/cmd/internal/browser"
)

// photographer walks from page to page as a user does and takes their pictures.
type photographer struct {
	browser   *browser.Browser
	url, demo string
}

// scene is a page to be shown.
type scene struct {
	name string
	// walk leads from the start page to the page.
	walk func(*photographer, *browser.Tab) error
}

var scenes = []scene{
	{"start", func(*photographer, *browser.Tab) error { return nil }},
	{"drive", func(p *photographer, t *browser.Tab) error {
		if err := p.measureDemo(t, "town"); err != nil {
			return err
		}
		return openEpisode(t, "a0.1")
	}},
	{"comparison", func(p *photographer, t *browser.Tab) error {
		if err := p.measureDemo(t, "slow-to-go-after"); err != nil {
			return err
		}
		return p.drop(t, "#against form", "#against [value=before]", "slow-to-go-before.log")
	}},
	{"standstills", func(p *photographer, t *browser.Tab) error { return p.measureDemo(t, "kept-running") }},
	{"failed", func(p *photographer, t *browser.Tab) error {
		if err := p.measureDemo(t, "failed-start"); err != nil {
			return err
		}
		return openEpisode(t, "a0.2")
	}},
	{"mistakes", func(p *photographer, t *browser.Tab) error {
		text, err := os.ReadFile(filepath.Join(p.demo, "map.yaml"))
		if err != nil {
			return err
		}
		text = bytes.Replace(text, []byte("role: engine_speed"), []byte("role: engine_sped"), 1)
		text = bytes.Replace(text, []byte("below: 40"), []byte("beneath: 40"), 1)
		if err := os.WriteFile(filepath.Join(p.demo, "car.yaml"), text, 0o644); err != nil {
			return err
		}
		return p.drop(t, "form.drop", "", "town.log", "car.yaml")
	}},
	{"notice", func(p *photographer, t *browser.Tab) error {
		return t.Do(chromedp.Navigate(p.url + "drives/gone"))
	}},
}

// open opens the page of a scene.
func (p *photographer) open(s scene, width int64, dark bool) (*browser.Tab, error) {
	t, err := p.browser.Open(width, 900, dark)
	if err != nil {
		return nil, err
	}
	if err = t.Do(chromedp.Navigate(p.url)); err == nil {
		err = s.walk(p, t)
	}
	if err != nil {
		t.Close()
		return nil, fmt.Errorf("%s: %w", s.name, err)
	}
	return t, nil
}

// measureDemo picks a drive of the demonstration.
func (p *photographer) measureDemo(t *browser.Tab, name string) error {
	if err := t.Do(chromedp.Click(chromedp.CSS(`form.demo button[value="` + name + `"]`))); err != nil {
		return err
	}
	return t.Until("document.readyState === 'complete' && document.querySelector('#answer')")
}

// drop chooses files in a form, and before that something else in it, and sends it.
func (p *photographer) drop(t *browser.Tab, form, first string, files ...string) error {
	before, err := browser.Value[string](t, "location.href")
	if err != nil {
		return err
	}
	for _, f := range files {
		field := "log"
		if filepath.Ext(f) == ".yaml" {
			field = "map"
		}
		if err := t.Do(chromedp.SetUploadFiles(chromedp.CSS(form+` [name=`+field+`]`), []string{filepath.Join(p.demo, f)})); err != nil {
			return err
		}
	}
	if first != "" {
		if err := t.Do(chromedp.Click(chromedp.CSS(first))); err != nil {
			return err
		}
	}
	if err := t.Do(chromedp.Click(chromedp.CSS(form + " [type=submit]"))); err != nil {
		return err
	}
	return t.Until(fmt.Sprintf("location.href !== %q && document.readyState === 'complete' && document.querySelector('#answer')", before))
}

// openEpisode opens the card of an episode and puts the cursor into its picture.
func openEpisode(t *browser.Tab, open string) error {
	row := `tbody[data-open="` + open + `"]`
	if err := t.Do(chromedp.Click(chromedp.CSS(row + " a"))); err != nil {
		return err
	}
	if err := t.Until("document.querySelector('.reading')"); err != nil {
		return err
	}
	return t.Do(chromedp.Focus(chromedp.CSS(row+" figure")), chromedp.KeyEvent(kb.PageDown))
}

// shot is a picture of a page from its top, or from where an element begins, of a
// height in CSS pixels, or of what there is.
func shot(t *browser.Tab, from string, width, height float64) (image.Image, error) {
	top := 0.0
	if from != "" {
		var err error
		if top, err = browser.Value[float64](t, fmt.Sprintf("document.querySelector(%q).getBoundingClientRect().top + scrollY - 8", from)); err != nil {
			return nil, err
		}
	}
	whole, err := browser.Value[float64](t, "document.documentElement.scrollHeight")
	if err != nil {
		return nil, err
	}
	beyond := true
	var data []byte
	err = t.Do(chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		r, err := cdp.Call(ctx, target, page.CaptureScreenshot, page.CaptureScreenshotParams{CaptureBeyondViewport: &beyond,
			Clip: &page.Viewport{X: 0, Y: top, Width: width, Height: min(height, whole-top), Scale: 1}})
		data = r.Data
		return err
	}))
	if err != nil {
		return nil, err
	}
	return png.Decode(bytes.NewReader(data))
}

// everything writes all scenes at two widths, light and dark.
func (p *photographer) everything(folder string) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	for _, s := range scenes {
		t, err := p.open(s, 1400, false)
		if err != nil {
			return err
		}
		for _, width := range []int64{1400, 360} {
			for _, dark := range []bool{false, true} {
				if err := t.Look(width, 900, dark); err != nil {
					return err
				}
				img, err := shot(t, "", float64(width), 6000)
				if err != nil {
					return err
				}
				name := fmt.Sprintf("%s-%d-light.png", s.name, width)
				if dark {
					name = fmt.Sprintf("%s-%d-dark.png", s.name, width)
				}
				if err := write(filepath.Join(folder, name), img); err != nil {
					return err
				}
			}
		}
		t.Close()
	}
	return nil
}

// readme writes the pictures of the README.
func (p *photographer) readme(folder string) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	for _, view := range []struct {
		name, scene, from string
		width             int64
		height            float64
		dark              bool
	}{
		{name: "start", scene: "start", width: 1400, height: 900},
		{name: "drive", scene: "drive", width: 1400, height: 1500},
		{name: "drive-narrow-dark", scene: "drive", from: "section.episodes", width: 360, height: 1400, dark: true},
		{name: "comparison", scene: "comparison", width: 1400, height: 1300},
	} {
		for _, s := range scenes {
			if s.name != view.scene {
				continue
			}
			t, err := p.open(s, view.width, view.dark)
			if err != nil {
				return err
			}
			img, err := shot(t, view.from, float64(view.width), view.height)
			if err != nil {
				return err
			}
			t.Close()
			if err := write(filepath.Join(folder, view.name+".png"), img); err != nil {
				return err
			}
		}
	}
	return nil
}
