package main

import (
	"bytes"
	"cmp"
	"image"
	"image/color"
	"image/png"
	"io"
	"slices"

	"lull/pkg/source"
)

// mostColours is what a palette holds. Pages have few colours, apart from the edges
// of letters; those that are missing are replaced by the nearest.
const mostColours = 256

// write writes a picture as PNG with a palette, which is a third of the size.
func write(path string, img image.Image) error {
	bounds := img.Bounds()
	counts := map[color.RGBA]int{}
	at := func(x, y int) color.RGBA { return color.RGBAModel.Convert(img.At(x, y)).(color.RGBA) }
	for y := bounds.Min.Y; y < bounds.Max.Y; y++ {
		for x := bounds.Min.X; x < bounds.Max.X; x++ {
			counts[at(x, y)]++
		}
	}
	colours := make([]color.RGBA, 0, len(counts))
	for c := range counts {
		colours = append(colours, c)
	}
	slices.SortFunc(colours, func(a, b color.RGBA) int {
		return cmp.Or(counts[b]-counts[a], int(a.R)-int(b.R), int(a.G)-int(b.G), int(a.B)-int(b.B))
	})
	palette := color.Palette{}
	for _, c := range colours[:min(len(colours), mostColours)] {
		palette = append(palette, c)
	}
	places := map[color.RGBA]uint8{}
	for _, c := range colours {
		places[c] = uint8(palette.Index(c))
	}
	flat := image.NewPaletted(image.Rect(0, 0, bounds.Dx(), bounds.Dy()), palette)
	for y := range bounds.Dy() {
		for x := range bounds.Dx() {
			flat.SetColorIndex(x, y, places[at(bounds.Min.X+x, bounds.Min.Y+y)])
		}
	}
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, flat); err != nil {
		return err
	}
	return source.WriteFile(path, func(w io.Writer) error {
		_, err := w.Write(b.Bytes())
		return err
	})
}
