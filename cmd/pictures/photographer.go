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

	"lull/cmd/internal/browser"
)

// photographer walks from page to page as a user does and takes their pictures.
type photographer struct {
	browser   *browser.Browser
	url, demo string
}

// open opens the page of a scene.
func (p *photographer) open(s browser.Scene, width int64, dark bool) (*browser.Tab, error) {
	t, err := p.browser.Open(width, 900, dark)
	if err != nil {
		return nil, err
	}
	if err := s.Show(t, p.url, p.demo); err != nil {
		t.Close()
		return nil, err
	}
	return t, nil
}

// shot is a picture of a page, from where one element begins to where another ends;
// "" is the page's top and its bottom. No page is shown further than to a height in
// CSS pixels.
func shot(t *browser.Tab, from, to string, width, height float64) (image.Image, error) {
	edge := func(selector, side, none string) string {
		if selector == "" {
			return none
		}
		return fmt.Sprintf("document.querySelector(%q).getBoundingClientRect().%s + scrollY", selector, side)
	}
	span, err := browser.Value[[]float64](t, fmt.Sprintf("[%s, %s]", edge(from, "top", "0"), edge(to, "bottom + 12", "document.documentElement.scrollHeight")))
	if err != nil {
		return nil, err
	}
	top, height := span[0], min(height, span[1]-span[0])
	beyond := true
	var data []byte
	err = t.Do(chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		r, err := cdp.Call(ctx, target, page.CaptureScreenshot, page.CaptureScreenshotParams{CaptureBeyondViewport: &beyond,
			Clip: &page.Viewport{X: 0, Y: top, Width: width, Height: height, Scale: 1}})
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
	for _, s := range browser.Scenes {
		t, err := p.open(s, 1400, false)
		if err != nil {
			return err
		}
		for _, width := range []int64{1400, 360} {
			for _, dark := range []bool{false, true} {
				if err := t.Look(width, 900, dark); err != nil {
					return err
				}
				img, err := shot(t, "", "", float64(width), 6000)
				if err != nil {
					return err
				}
				name := fmt.Sprintf("%s-%d-light.png", s.Name, width)
				if dark {
					name = fmt.Sprintf("%s-%d-dark.png", s.Name, width)
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
		name, scene, from, to string
		width                 int64
		height                float64
		dark                  bool
	}{
		{name: "start", scene: "start", width: 1400, height: 1100},
		{name: "drive", scene: "drive", to: ".reading", width: 1400, height: 2000},
		{name: "drive-narrow-dark", scene: "drive", from: "section.episodes", to: ".reading", width: 360, height: 2000, dark: true},
		{name: "draft", scene: "draft", to: "#signal-engine_speed", width: 1400, height: 2000},
		{name: "comparison", scene: "comparison", width: 1400, height: 1190},
	} {
		for _, s := range browser.Scenes {
			if s.Name != view.scene {
				continue
			}
			t, err := p.open(s, view.width, view.dark)
			if err != nil {
				return err
			}
			img, err := shot(t, view.from, view.to, float64(view.width), view.height)
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
