package scenario

import (
	"bytes"
	"embed"
	"fmt"
	"strings"
)

//go:embed maps
var maps embed.FS

// mapFiles gives the file in maps that stands behind a map of the demonstration.
var mapFiles = map[string]string{
	"map.yaml": "maps/car.yaml", "van/map.yaml": "maps/van.yaml", "truck/map.yaml": "maps/truck.yaml",
}

// Map returns a map of the demonstration by its name, such as "van/map.yaml", or
// nil if there is none of that name.
func Map(name string) []byte {
	data, err := maps.ReadFile(mapFiles[name])
	if err != nil {
		return nil
	}
	return data
}

// File is one file of the demonstration.
type File struct {
	Name  string // relative to its folder, with slashes
	Title string // what it is, one line
	Bytes func() []byte
}

// Files lists all files of the demonstration: what it is, the maps, the logs.
// Every drive finds its map beside it.
func Files() []File {
	files := []File{
		{Name: "README.md", Title: "what these files are", Bytes: readme},
		{Name: "map.yaml", Title: "signal map of the Tallowmere 1.2", Bytes: func() []byte { return Map("map.yaml") }},
	}
	seen := map[string]bool{"map.yaml": true}
	for _, d := range Drives() {
		if !seen[d.Map] {
			seen[d.Map] = true
			name := d.Map
			files = append(files, File{Name: name, Title: "signal map for " + d.Name, Bytes: func() []byte { return Map(name) }})
		}
		files = append(files, File{Name: d.Name, Title: d.Title, Bytes: d.log})
	}
	return files
}

func (d Drive) log() []byte {
	var b bytes.Buffer
	if err := d.WriteLog(&b); err != nil {
		return nil // a bytes.Buffer gives no errors
	}
	return b.Bytes()
}

func readme() []byte {
	var b strings.Builder
	b.WriteString(`# The Tallowmere motor pool

Logs of made-up cars with idle stop, and the signal maps to read them with. No
real car, brand or person is meant. The logs are in candump's log form; the map
of each lies beside it.

| log | what it shows |
| --- | --- |
`)
	for _, d := range Drives() {
		fmt.Fprintf(&b, "| %s | %s |\n", d.Name, d.Title)
	}
	b.WriteString(`
Begin with

    lull episodes town.log
    lull standstills kept-running.log
    lull episodes slow-to-go-before.log slow-to-go-after.log
    lull episodes van
    lull episodes truck

A car with idle stop can start by itself: follow the maker's procedure before
you open the bonnet.
`)
	return []byte(b.String())
}
