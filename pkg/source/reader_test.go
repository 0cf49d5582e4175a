package source

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"syscall"
	"testing"
	"testing/iotest"

	"github.com/klauspost/compress/zstd"
	"github.com/ulikunitz/xz"
)

// text is the unpacked content.
const text = "(1735270496.916858) can0 1A0#0011\n"

// bzipped is text packed by `bzip2 -9`; the standard library cannot write bzip2.
const bzipped = "QlpoOTFBWSZTWQAys3YAAAJdAAAQSGF/4CAAKAEgADFMJpoDTEKaDIMjamiIZV40DJvmgVQd3VMOSM4tCx8XckU4UJAAMrN2"

// packed returns text in every supported packing, by name.
func packed(t testing.TB) map[string][]byte {
	t.Helper()
	var gz, zs bytes.Buffer
	g := gzip.NewWriter(&gz)
	io.WriteString(g, text)
	g.Close()
	z, err := zstd.NewWriter(&zs)
	if err != nil {
		t.Fatal(err)
	}
	io.WriteString(z, text)
	z.Close()
	var x bytes.Buffer
	w, err := xz.NewWriter(&x)
	if err != nil {
		t.Fatal(err)
	}
	io.WriteString(w, text)
	w.Close()
	bz, err := base64.StdEncoding.DecodeString(bzipped)
	if err != nil {
		t.Fatal(err)
	}
	return map[string][]byte{"": []byte(text), "gzip": gz.Bytes(), "zstd": zs.Bytes(), "bzip2": bz, "xz": x.Bytes()}
}

func write(t *testing.T, name string, data []byte) {
	t.Helper()
	if err := os.WriteFile(name, data, 0o666); err != nil {
		t.Fatal(err)
	}
}

func TestAReaderReturnsTheUnpackedBytesAndTheFiguresOfTheFile(t *testing.T) {
	tree(t)
	for name, data := range packed(t) {
		t.Run("packing "+name, func(t *testing.T) {
			twice := append(append([]byte{}, data...), data...) // packings may follow each other
			write(t, "a.log", twice)
			r, err := Open(Input{Path: "a.log"}, nil, WithSHA256())
			if err != nil {
				t.Fatal(err)
			}
			if err := iotest.TestReader(r, []byte(text+text)); err != nil {
				t.Error(err)
			}
			sum := sha256.Sum256(twice)
			if got := r.SHA256(); got != hex.EncodeToString(sum[:]) {
				t.Errorf("SHA-256 %s of the bytes read", got)
			}
			size, sized := r.Size()
			if n := int64(len(twice)); size != n || !sized || r.Bytes() != n || r.Position() != n || r.Packing() != name {
				t.Errorf("size %d %v, bytes %d, position %d, packing %q; the file has %d", size, sized, r.Bytes(), r.Position(), r.Packing(), n)
			}
			if err := r.Close(); err != nil {
				t.Error(err)
			}
			if _, err := r.Read(make([]byte, 1)); !errors.Is(err, fs.ErrClosed) {
				t.Errorf("reading after Close gives %v", err)
			}
			if err := r.Close(); err != nil {
				t.Errorf("closing twice gives %v", err)
			}
		})
	}
}

func TestStandardInputIsReadAndNotClosed(t *testing.T) {
	for name, data := range packed(t) {
		stdin := &closable{Reader: bytes.NewReader(data)}
		r, err := Open(Input{Path: "-"}, stdin)
		if err != nil {
			t.Fatal(err)
		}
		got, err := io.ReadAll(r)
		if string(got) != text || err != nil {
			t.Errorf("%s: %q, %v", name, got, err)
		}
		if _, sized := r.Size(); sized || r.SHA256() != "" {
			t.Errorf("%s: the pipe has a size or an unrequested hash", name)
		}
		if err := r.Close(); err != nil || stdin.closed {
			t.Errorf("%s: Close gives %v, closed standard input: %v", name, err, stdin.closed)
		}
	}
	if _, err := Open(Input{Path: "-"}, nil); err == nil || err.Error() != "standard input: there is none; name a file" {
		t.Errorf("error %v", err)
	}
}

type closable struct {
	io.Reader
	closed bool
}

func (c *closable) Close() error { c.closed = true; return nil }

func TestShortInputsAreReadAsTheyAre(t *testing.T) {
	for _, data := range []string{"", "a", "\x1F\x8B", "(\n", "12345", "123456", "1234567"} {
		r, err := Open(Input{Path: "-"}, iotest.OneByteReader(strings.NewReader(data)))
		if err != nil {
			t.Fatal(err)
		}
		if got, err := io.ReadAll(r); string(got) != data || err != nil {
			t.Errorf("%q gives %q, %v", data, got, err)
		}
	}
}

// A file cut anywhere after its first bytes is read up to there, followed by an error
// that distinguishes damage from a fault of the disk.
func TestDamageIsReportedAfterWhatCouldBeRead(t *testing.T) {
	for name, data := range packed(t) {
		if name == "" {
			continue
		}
		for cut := longestMagic; cut < len(data); cut++ {
			r, err := Open(Input{Path: "-"}, bytes.NewReader(data[:cut]))
			if err != nil {
				t.Fatal(err)
			}
			got, err := io.ReadAll(r)
			if !errors.Is(err, ErrDamaged) || !strings.HasPrefix(text, string(got)) {
				t.Errorf("%s cut at %d of %d: %q, error %v", name, cut, len(data), got, err)
			}
			want := "standard input: the " + name + " data is damaged or cut off; copy the file again from where it was recorded"
			if err != nil && err.Error() != want {
				t.Errorf("error %q, want %q", err, want)
			}
			if n, again := r.Read(make([]byte, 1)); n != 0 || !errors.Is(again, ErrDamaged) {
				t.Errorf("%s: the next Read returned %d, %v", name, n, again)
			}
		}
		whole := append(append([]byte{}, data...), "garbage"...)
		r, _ := Open(Input{Path: "-"}, bytes.NewReader(whole))
		if got, err := io.ReadAll(r); string(got) != text || !errors.Is(err, ErrDamaged) {
			t.Errorf("%s with garbage behind it: %q, error %v", name, got, err)
		}
	}
}

func TestUnsupportedPackingsAreRefusedByName(t *testing.T) {
	tree(t)
	for magic, want := range map[string]string{
		"PK\x03\x04rest":           "a.log: a zip archive or a workbook, not a CAN log; if a log is packed in it, unpack it first",
		"7z\xBC\xAF\x27\x1Cetcett": "a.log: a 7-Zip archive, not a CAN log; if a log is packed in it, unpack it first",
	} {
		write(t, "a.log", []byte(magic))
		_, err := Open(Input{Path: "a.log"}, nil)
		if err == nil || err.Error() != want || !errors.Is(err, ErrPacking) {
			t.Errorf("error %v, want %q", err, want)
		}
	}
}

func TestAFaultOfTheDiskIsNotDamage(t *testing.T) {
	fault := &fs.PathError{Op: "read", Path: "/somewhere", Err: syscall.EIO}
	for name, data := range packed(t) {
		for _, cut := range []int{0, 3, 20} {
			r, err := Open(Input{Path: "-"}, io.MultiReader(bytes.NewReader(data[:cut]), iotest.ErrReader(fault)))
			if err == nil {
				_, err = io.ReadAll(r)
			}
			if !errors.Is(err, syscall.EIO) || errors.Is(err, ErrDamaged) {
				t.Errorf("%s, fault after %d: error %v", name, cut, err)
				continue
			}
			if want := "standard input: " + syscall.EIO.Error(); err.Error() != want {
				t.Errorf("error %q, want %q", err, want)
			}
		}
	}
}

func TestOpenSaysWhatIsWrongWithAFile(t *testing.T) {
	tree(t, "job/a.log", "gone.log")
	inputs, err := Expand([]string{"gone.log"})
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Remove("gone.log"); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		input Input
		want  string
		is    error
	}{
		{inputs[0], "gone.log: no such file; check the name and the folder you are in", fs.ErrNotExist},
		{Input{Path: "job"}, "job: a folder, not a file; name the file", ErrFolder},
		{Input{}, `"": no such file; check the name and the folder you are in`, fs.ErrNotExist},
	} {
		r, err := Open(c.input, nil)
		if r != nil || err == nil || err.Error() != c.want || !errors.Is(err, c.is) {
			t.Errorf("%q: %v, want %q", c.input.Path, err, c.want)
		}
		var typed *Error
		if !errors.As(err, &typed) {
			t.Errorf("%q: %T is not an *Error", c.input.Path, err)
		}
	}
}

// Permission bits do not bind every user, so the wording is tested separately.
func TestFaultsAreInPlainWords(t *testing.T) {
	for _, c := range []struct {
		err  error
		want string
	}{
		{&fs.PathError{Op: "open", Path: "/x", Err: fs.ErrPermission}, "a.log: permission denied; change its permissions, or choose another place"},
		{&fs.PathError{Op: "write", Path: "/x", Err: syscall.ENOSPC}, "a.log: the disk is full; make room or choose another place"},
		{&fs.PathError{Op: "write", Path: "/x", Err: syscall.EDQUOT}, "a.log: your disk quota is used up; make room or choose another place"},
		{&fs.PathError{Op: "write", Path: "/x", Err: syscall.EFBIG}, "a.log: the file size limit is reached; choose another disk, or raise the limit (ulimit -f)"},
		{fmt.Errorf("something else"), "a.log: something else"},
	} {
		if got := plain("a.log", c.err); got.Error() != c.want || !errors.Is(got, c.err) {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	if plain("a.log", nil) != nil {
		t.Error("a nil error became an error")
	}
}

func TestAnUnreadableFile(t *testing.T) {
	tree(t, "a.log")
	if err := os.Chmod("a.log", 0); err != nil {
		t.Fatal(err)
	}
	if f, err := os.Open("a.log"); err == nil {
		f.Close()
		t.Skip("permission bits do not bind this user or system")
	}
	if _, err := Open(Input{Path: "a.log"}, nil); !errors.Is(err, fs.ErrPermission) {
		t.Errorf("error %v", err)
	}
}
