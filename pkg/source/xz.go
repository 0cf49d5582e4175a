package source

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"

	"github.com/ulikunitz/xz"
)

// errWindow is behind the refusal of packings that need too much memory, errFilter
// behind that of xz filters that are not read, and errFollowed behind the error
// of whole packings that something else follows.
var (
	errWindow   = errors.New("needs too much memory to unpack")
	errFilter   = errors.New("uses a filter that is not read")
	errFollowed = errors.New("something else follows")
)

// mostBlocks bounds the index that unpacking holds: blocks of one xz stream. The
// blocks of `xz -T0` have megabytes each.
const mostBlocks = 1 << 18

func openXZ(r io.Reader) (io.Reader, func(), error) {
	guard := &xzGuard{in: bufio.NewReaderSize(r, 64<<10)}
	guard.next = guard.streamHeader
	z, err := xz.NewReader(guard)
	return &guarded{z: z, guard: guard, err: err}, nil, nil
}

// guarded reads what the guard lets through and gives the guard's objections.
type guarded struct {
	z     *xz.Reader
	guard *xzGuard
	err   error
}

func (g *guarded) Read(p []byte) (n int, err error) {
	if g.err == nil {
		n, g.err = g.z.Read(p)
	}
	if g.err != nil && g.guard.err != nil && g.guard.err != io.EOF {
		g.err = g.guard.err
	}
	return n, g.err
}

// xzGuard passes an xz file on to the library that unpacks it and looks at each
// block's header on the way: the library makes the dictionary as large as that
// asks for, up to 4 GiB. It follows the file's parts (xz file format 1.2.1,
// LZMA2 chunks) but leaves checking them to the library.
type xzGuard struct {
	in     *bufio.Reader
	left   int64        // bytes to pass on before next is asked
	next   func() error // looks at what comes and sets left and itself anew
	err    error
	check  int64 // size of a block's check in this stream
	size   int64 // of the block's packed data so far
	blocks int
}

func (g *xzGuard) Read(p []byte) (int, error) {
	for g.left == 0 {
		if g.err != nil {
			return 0, g.err
		}
		g.err = g.next()
	}
	n, err := g.in.Read(p[:min(int64(len(p)), g.left)])
	g.left -= int64(n)
	if err != nil {
		g.err = endless(err)
	}
	return n, g.err
}

func (g *xzGuard) pass(n int64, next func() error) error {
	g.left, g.next = n, next
	return nil
}

// peek looks at n bytes that must be there.
func (g *xzGuard) peek(n int) ([]byte, error) {
	b, err := g.in.Peek(n)
	if err != nil {
		// The library finds out for itself, behind the last whole part.
		return nil, endless(err)
	}
	return b, nil
}

// endless makes an end of the input that comes too early what it is.
func endless(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}

const xzMagic = "\xFD7zXZ\x00"

// streamHeader begins a stream, or passes on padding between two.
func (g *xzGuard) streamHeader() error {
	b, err := g.in.Peek(12)
	switch {
	case len(b) == 0:
		return err
	case len(b) >= 4 && string(b[:4]) == "\x00\x00\x00\x00":
		return g.pass(4, g.streamHeader)
	case len(b) >= len(xzMagic) && string(b[:len(xzMagic)]) != xzMagic:
		return errFollowed
	case err != nil:
		return endless(err)
	}
	// Check sizes by the id of the check, in steps of three.
	g.check = [16]int64{0, 4, 4, 4, 8, 8, 8, 16, 16, 16, 32, 32, 32, 64, 64, 64}[b[7]&15]
	g.blocks = 0
	return g.pass(12, g.block)
}

// block looks at a block's header, or passes to the index.
func (g *xzGuard) block() error {
	b, err := g.peek(1)
	if err != nil {
		return err
	}
	if b[0] == 0 {
		return g.pass(1, g.index)
	}
	n := (int(b[0]) + 1) * 4
	if b, err = g.peek(n); err != nil {
		return err
	}
	if crc32.ChecksumIEEE(b[:n-4]) != binary.LittleEndian.Uint32(b[n-4:]) {
		return errors.New("checksum of a block header")
	}
	if g.blocks++; g.blocks > mostBlocks {
		return fmt.Errorf("%w: more than %d blocks", errWindow, mostBlocks)
	}
	filters, rest := b[1]&3, b[2:n-4]
	for flag := byte(0x40); flag != 0; flag <<= 1 { // packed and unpacked size
		if b[1]&flag != 0 {
			_, k := binary.Uvarint(rest)
			rest = rest[max(k, 0):]
		}
	}
	if filters != 0 || len(rest) < 3 || rest[0] != 0x21 {
		return errFilter
	}
	// Five bits: a mantissa of 2 or 3 and its exponent.
	if property := uint(rest[2]); property > 40 || (2|uint64(property&1))<<(property/2+11) > mostWindow {
		return errWindow
	}
	g.size = 0
	return g.pass(int64(n), g.chunk)
}

// chunk passes on one LZMA2 chunk, or what follows the last one.
func (g *xzGuard) chunk() error {
	b, err := g.peek(1)
	if err != nil {
		return err
	}
	control, n := b[0], int64(0)
	switch {
	case control == 0:
		return g.pass(1+(-(g.size+1)&3)+g.check, g.block)
	case control >= 0x80:
		if b, err = g.peek(5); err != nil {
			return err
		}
		n = 5 + int64(binary.BigEndian.Uint16(b[3:])) + 1
		if control >= 0xC0 { // new properties
			n++
		}
	case control <= 2:
		if b, err = g.peek(3); err != nil {
			return err
		}
		n = 3 + int64(binary.BigEndian.Uint16(b[1:])) + 1
	default:
		return errors.New("an unknown LZMA2 chunk")
	}
	g.size += n
	return g.pass(n, g.chunk)
}

// index passes on the index, whose indicator was passed on, and the footer. It
// has a number and then two for each block.
func (g *xzGuard) index() error {
	numbers, size := 1+2*g.blocks, int64(1)
	var number func() error
	number = func() error {
		b, err := g.peek(1)
		if err != nil {
			return err
		}
		if size++; b[0] < 0x80 {
			numbers--
		}
		if numbers > 0 {
			return g.pass(1, number)
		}
		const crc, footer = 4, 12
		return g.pass(1+(-size&3)+crc+footer, g.streamHeader)
	}
	return number()
}
