package main

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"testing"
)

func written(t *testing.T, img image.Image) image.Image {
	t.Helper()
	path := filepath.Join(t.TempDir(), "picture.png")
	if err := write(path, img); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	got, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := got.(*image.Paletted); !ok || got.Bounds().Size() != img.Bounds().Size() {
		t.Fatalf("%T of %v", got, got.Bounds())
	}
	return got
}

func TestAPictureOfFewColoursIsKeptAndOneOfManyHardlyChanges(t *testing.T) {
	few := image.NewRGBA(image.Rect(10, 20, 42, 52))
	many := image.NewRGBA(image.Rect(0, 0, 64, 64))
	for i := range 64 * 64 {
		x, y := i%64, i/64
		many.SetRGBA(x, y, color.RGBA{uint8(4 * x), uint8(4 * y), 128, 255})
		few.SetRGBA(10+x/2, 20+y/2, color.RGBA{uint8(x / 8), uint8(y / 8), 7, 255})
	}
	got := written(t, few)
	for y := range 32 {
		for x := range 32 {
			if want := few.RGBAAt(10+x, 20+y); color.RGBAModel.Convert(got.At(x, y)) != want {
				t.Fatalf("at %d, %d: %v, not %v", x, y, got.At(x, y), want)
			}
		}
	}
	// The commonest colours are kept, all others become near ones of these.
	for i := range 64 * 32 {
		many.SetRGBA(i%64, i/64, color.RGBA{200, 10, 128, 255})
	}
	got = written(t, many)
	if c := color.RGBAModel.Convert(got.At(5, 5)); c != (color.RGBA{200, 10, 128, 255}) {
		t.Errorf("the commonest colour became %v", c)
	}
	if err := write(filepath.Join(t.TempDir(), "no", "folder.png"), few); err == nil {
		t.Error("written into a folder that is not there")
	}
}
