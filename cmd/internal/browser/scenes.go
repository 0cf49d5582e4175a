package browser

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
)

// Scene is a page of lull serve as a user comes to it.
type Scene struct {
	Name string
	walk func(*visitor) error // from the start page
}

// Scenes are pages of every kind, and what differs much on them.
var Scenes = []Scene{
	{"start", func(*visitor) error { return nil }},
	{"drive", func(v *visitor) error { return v.open("town", "a0.1") }},
	{"comparison", func(v *visitor) error {
		if err := v.measure("slow-to-go-after"); err != nil {
			return err
		}
		return v.drop("#against form", "#against [value=before]", "slow-to-go-before.log")
	}},
	{"standstills", func(v *visitor) error { return v.open("kept-running", "as0.8") }},
	{"failed", func(v *visitor) error { return v.open("failed-start", "a0.2") }},
	{"mistakes", func(v *visitor) error {
		text, err := os.ReadFile(filepath.Join(v.demo, "map.yaml"))
		if err != nil {
			return err
		}
		text = bytes.Replace(text, []byte("role: engine_speed"), []byte("role: engine_sped"), 1)
		text = bytes.Replace(text, []byte("below: 40"), []byte("beneath: 40"), 1)
		if err := os.WriteFile(filepath.Join(v.demo, "car.yaml"), text, 0o644); err != nil {
			return err
		}
		return v.drop("form.drop", "", "town.log", "car.yaml")
	}},
	{"no-map", func(v *visitor) error { return v.drop("form.drop", "", "town.log") }},
	{"draft", func(v *visitor) error {
		if err := v.drop("form.drop", "", "town.log"); err != nil {
			return err
		}
		if err := v.tab.Do(chromedp.Click(chromedp.CSS("form.choose [type=submit]"))); err != nil {
			return err
		}
		return v.tab.Until("document.readyState === 'complete' && document.querySelector('#signals')")
	}},
	{"notice", func(v *visitor) error { return v.tab.Do(chromedp.Navigate(v.url + "drives/gone")) }},
}

// Show shows a scene in a tab. The url is that of the start page; demo is a folder
// with the demonstration's files, into which the scenes may write further maps.
func (s Scene) Show(t *Tab, url, demo string) error {
	err := t.Do(chromedp.Navigate(url))
	if err == nil {
		err = s.walk(&visitor{t, url, demo})
	}
	if err != nil {
		return fmt.Errorf("%s: %w", s.Name, err)
	}
	return nil
}

type visitor struct {
	tab       *Tab
	url, demo string
}

const shown = "document.readyState === 'complete' && document.querySelector('#answer')"

// measure picks a drive of the demonstration.
func (v *visitor) measure(name string) error {
	if err := v.tab.Do(chromedp.Click(chromedp.CSS(`form.demo button[value="` + name + `"]`))); err != nil {
		return err
	}
	return v.tab.Until(shown)
}

// open picks a drive, opens the card of an episode or standstill and points at its
// picture.
func (v *visitor) open(name, card string) error {
	if err := v.measure(name); err != nil {
		return err
	}
	row := `tbody[data-open="` + card + `"]`
	if err := v.tab.Do(chromedp.Click(chromedp.CSS(row + " a"))); err != nil {
		return err
	}
	if err := v.tab.Until("document.querySelector('.reading')"); err != nil {
		return err
	}
	if err := v.tab.Do(chromedp.ScrollIntoView(chromedp.CSS(row + " figure"))); err != nil {
		return err
	}
	at, err := Value[[]float64](v.tab, fmt.Sprintf("(b => [b.left + b.width * 0.74, b.top + b.height / 2])(document.querySelector(%q).getBoundingClientRect())", row+" figure"))
	if err != nil {
		return err
	}
	if err := v.tab.Do(chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, at[0], at[1])); err != nil {
		return err
	}
	return v.tab.Until("document.querySelector('.reading').innerText.startsWith('At ')")
}

// drop chooses files in a form, clicks on something else in it, if anything, and
// sends it.
func (v *visitor) drop(form, besides string, files ...string) error {
	before, err := Value[string](v.tab, "location.href")
	if err != nil {
		return err
	}
	for _, f := range files {
		field := "log"
		if filepath.Ext(f) == ".yaml" {
			field = "map"
		}
		if err := v.tab.Do(chromedp.SetUploadFiles(chromedp.CSS(form+` [name=`+field+`]`), []string{filepath.Join(v.demo, f)})); err != nil {
			return err
		}
	}
	if besides != "" {
		if err := v.tab.Do(chromedp.Click(chromedp.CSS(besides))); err != nil {
			return err
		}
	}
	if err := v.tab.Do(chromedp.Click(chromedp.CSS(form + " [type=submit]"))); err != nil {
		return err
	}
	return v.tab.Until(fmt.Sprintf("location.href !== %q && %s", before, shown))
}
