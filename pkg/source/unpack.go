package source

import (
	"bufio"
	"bytes"
	"compress/bzip2"
	"compress/gzip"
	"io"

	"github.com/klauspost/compress/zstd"
)

// packing is one way in which a file may be packed, told by its first bytes.
type packing struct {
	name string
	is   func(head []byte) bool
	// open begins to unpack; release, which may be nil, ends it.
	open func(io.Reader) (r io.Reader, release func(), err error)
}

const longestMagic = 6

// mostWindow bounds the memory of zstd: what `zstd --ultra` needs by default.
const mostWindow = 128 << 20

var packings = []packing{
	// RFC 1952: magic, then the only method there is.
	{"gzip", begins("\x1F\x8B\x08"), func(r io.Reader) (io.Reader, func(), error) {
		z, err := gzip.NewReader(bufio.NewReader(r))
		return z, nil, err
	}},
	{"bzip2", begins("BZh"), func(r io.Reader) (io.Reader, func(), error) {
		return bzip2.NewReader(bufio.NewReader(r)), nil, nil
	}},
	// RFC 8878: a frame, or a skippable one, which pzstd puts first.
	{"zstd", func(head []byte) bool {
		return begins("\x28\xB5\x2F\xFD")(head) || len(head) >= 4 && head[0]&0xF0 == 0x50 && begins("\x2A\x4D\x18")(head[1:])
	}, func(r io.Reader) (io.Reader, func(), error) {
		z, err := zstd.NewReader(r, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxWindow(mostWindow))
		if err != nil {
			return nil, nil, err
		}
		return z, z.Close, nil
	}},
}

// refused are packings that are told but not read.
var refused = []struct {
	is  func([]byte) bool
	why string
}{
	{begins("\xFD7zXZ\x00"), "packed by xz"},
	{begins("PK\x03\x04"), "a zip archive"},
	{begins("7z\xBC\xAF\x27\x1C"), "a 7-Zip archive"},
}

func begins(magic string) func([]byte) bool {
	return func(head []byte) bool { return bytes.HasPrefix(head, []byte(magic)) }
}

// recognise tells the packing of an input that begins with head, or why it is
// refused; neither where the bytes are to be taken as they are.
func recognise(head []byte) (p *packing, refuse string) {
	for i := range packings {
		if packings[i].is(head) {
			return &packings[i], ""
		}
	}
	for i := range refused {
		if refused[i].is(head) {
			return nil, refused[i].why
		}
	}
	return nil, ""
}
