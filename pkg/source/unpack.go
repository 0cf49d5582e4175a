package source

import (
	"bufio"
	"bytes"
	"compress/bzip2"
	"errors"
	"fmt"
	"io"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
	"github.com/mikelolasagasti/xz"
)

// packing is a format in which a file may be packed, recognised by its first bytes.
type packing struct {
	name string
	is   func(head []byte) bool
	// open begins to unpack; release, which may be nil, ends it.
	open func(io.Reader) (r io.Reader, release func(), err error)
	// repack is a shell command that repacks a refused log so that it can be read.
	repack string
}

const longestMagic = 6

// mostWindow bounds the memory of unpacking: it is how far back zstd and xz may refer.
// `xz -9` needs just this much. zstd needs no more up to level 19, but 128 MiB with
// --long or --ultra -22.
const mostWindow = 64 << 20

var packings = []packing{
	// RFC 1952: magic, then the only method there is.
	{"gzip", begins("\x1F\x8B\x08"), func(r io.Reader) (io.Reader, func(), error) {
		z, err := gzip.NewReader(bufio.NewReaderSize(r, 64<<10))
		return z, nil, err
	}, "gzip -d FILE && gzip LOG"},
	{"bzip2", begins("BZh"), func(r io.Reader) (io.Reader, func(), error) {
		return bzip2.NewReader(bufio.NewReaderSize(r, 64<<10)), nil, nil
	}, "bzip2 -d FILE && bzip2 LOG"},
	// RFC 8878: a frame, or a skippable frame, with which pzstd begins.
	{"zstd", func(head []byte) bool {
		return begins("\x28\xB5\x2F\xFD")(head) || len(head) >= 4 && head[0]&0xF0 == 0x50 && begins("\x2A\x4D\x18")(head[1:])
	}, func(r io.Reader) (io.Reader, func(), error) {
		z, err := zstd.NewReader(r, zstd.WithDecoderConcurrency(1), zstd.WithDecoderLowmem(true), zstd.WithDecoderMaxWindow(mostWindow))
		if err != nil {
			return nil, nil, err
		}
		return z, z.Close, nil
	}, "zstd -d --long=31 FILE && zstd LOG"},
	{"xz", begins(xzMagic), openXZ, "xz -d FILE && xz -6 LOG"},
}

// refused are archives that are recognised but not read.
var refused = []struct {
	is  func([]byte) bool
	why string
}{
	{begins("PK\x03\x04"), "a zip archive or a workbook, not a CAN log"},
	{begins("7z\xBC\xAF\x27\x1C"), "a 7-Zip archive, not a CAN log"},
}

// objection explains an error of unpacking and says what to do about it. If damaged is
// true, everything unpacked before the error is valid.
func (p *packing) objection(err error) (why, hint string, damaged bool) {
	switch {
	case errors.Is(err, xz.ErrMemlimit), errors.Is(err, zstd.ErrWindowSizeExceeded):
		return fmt.Sprintf("packed by %s in such a way that unpacking takes more than %d MiB of memory", p.name, mostWindow>>20), "repack it: " + p.repack, false
	case errors.Is(err, xz.ErrOptions):
		return "packed by " + p.name + " with an unsupported filter", "repack it: " + p.repack, false
	case errors.Is(err, xz.ErrFormat), errors.Is(err, gzip.ErrHeader), errors.Is(err, zstd.ErrMagicMismatch), err == errBzip2Followed:
		return "something that is not " + p.name + " follows the packed log", "check that the file is a copy of one log", true
	}
	return "the " + p.name + " data is damaged or cut off", "copy the file again from where it was recorded", true
}

// errBzip2Followed is the error of compress/bzip2 for data after a stream that is not
// another stream.
const errBzip2Followed = bzip2.StructuralError("bad magic value in continuation file")

func begins(magic string) func([]byte) bool {
	return func(head []byte) bool { return bytes.HasPrefix(head, []byte(magic)) }
}

// recognise returns the packing of an input that begins with head, or why the input is
// refused. It returns neither if the input is not packed.
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
