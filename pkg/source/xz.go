package source

import (
	"bufio"
	"io"

	"github.com/mikelolasagasti/xz"
)

const xzMagic = "\xFD7zXZ\x00"

func openXZ(r io.Reader) (io.Reader, func(), error) {
	z, err := xz.NewReader(bufio.NewReaderSize(r, 64<<10), mostWindow)
	return z, nil, err
}
