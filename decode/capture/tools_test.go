package capture

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
	"lull/pkg/oracle"
)

// run runs one of Wireshark's programs.
func run(t *testing.T, folder, program string, arguments ...string) string {
	t.Helper()
	command := exec.Command(oracle.Program(t, program, "tshark"), arguments...)
	command.Dir, command.Env = folder, append(os.Environ(), "TZ=UTC", "LC_ALL=C")
	var complaint bytes.Buffer
	command.Stderr = &complaint
	out, err := command.Output()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", program, strings.Join(arguments, " "), err, complaint.String())
	}
	return string(out)
}

// hexDump returns the input of text2pcap.
func hexDump(list []decode.Frame) string {
	var b strings.Builder
	for i := range list {
		f := &list[i]
		fmt.Fprintf(&b, "%d.%06d\n0000 % x\n", f.Time/1e9, f.Time%1e9/1e3, record(f))
	}
	return b.String()
}

func onBus(list []decode.Frame, bus string) []decode.Frame {
	renamed := append([]decode.Frame{}, list...)
	for i := range renamed {
		renamed[i].Bus = bus
	}
	return renamed
}

// The files are written by text2pcap, editcap and mergecap of the Wireshark project, which
// share no code with lull.
func TestFilesOfWiresharksProgramsGiveTheFramesOfTheLog(t *testing.T) {
	folder := t.TempDir()
	list := frames(t, log)
	if err := os.WriteFile(filepath.Join(folder, "dump.txt"), []byte(hexDump(list)), 0o666); err != nil {
		t.Fatal(err)
	}
	for _, form := range []string{"pcap", "nsecpcap", "pcapng"} {
		run(t, folder, "text2pcap", "-q", "-F", form, "-l", "227", "-t", "%s.%f", "dump.txt", "plain."+form)
	}
	run(t, folder, "text2pcap", "-q", "-F", "pcapng", "-N", "body", "-l", "227", "-t", "%s.%f", "dump.txt", "named.pcapng")
	run(t, folder, "text2pcap", "-q", "-F", "pcapng", "-l", "1", "-t", "%s.%f", "dump.txt", "ether.pcapng")
	run(t, folder, "editcap", "-F", "pcapng", "plain.pcap", "edited.pcapng")
	run(t, folder, "editcap", "-F", "pcap", "named.pcapng", "edited.pcap")
	run(t, folder, "mergecap", "-a", "-w", "merged.pcapng", "ether.pcapng", "named.pcapng", "plain.nsecpcap")
	for _, c := range []struct {
		name, bus string
		digits    int
	}{
		{"plain.pcap", "can0", 6}, {"plain.nsecpcap", "can0", 9}, {"plain.pcapng", "", 9}, {"named.pcapng", "body", 9},
		{"edited.pcapng", "can0", 6}, {"edited.pcap", "can0", 6},
	} {
		data, err := os.ReadFile(filepath.Join(folder, c.name))
		if err != nil {
			t.Fatal(err)
		}
		got, info, err := readAll(t, bytes.NewReader(data))
		if c.bus == "" && len(got) > 0 {
			c.bus = got[0].Bus // text2pcap's name for an interface without one
		}
		if diff := cmp.Diff(onBus(list, c.bus), got); diff != "" || err != nil {
			t.Errorf("%s: error %v; frames (-want +got):\n%s", c.name, err, diff)
		}
		if info.Remarks != nil || info.StampDigits != c.digits || !Is(data[:HeadSize]) {
			t.Errorf("%s: %+v", c.name, info)
		}
		if c.name == "named.pcapng" {
			checkFields(t, folder, c.name, got)
		}
	}
	data, err := os.ReadFile(filepath.Join(folder, "merged.pcapng"))
	if err != nil {
		t.Fatal(err)
	}
	got, info, err := readAll(t, bytes.NewReader(data))
	want := append(onBus(list, "body"), onBus(list, "can2")...)
	n := int64(len(list))
	for i := range want {
		want[i].Line = n + int64(i) + 1
	}
	if diff := cmp.Diff(want, got); diff != "" || err != nil || info.Remarked != n || len(info.Remarks) != 1 || info.Remarks[0].Code != decode.RemarkOtherPackets {
		t.Errorf("merged: error %v, %+v; frames (-want +got):\n%s", err, info, diff)
	}
}

// checkFields compares the frames with the fields that tshark shows for each packet, except
// for error frames, for which it shows other fields.
func checkFields(t *testing.T, folder, name string, list []decode.Frame) {
	t.Helper()
	out := run(t, folder, "tshark", "-r", name, "-T", "fields", "-e", "frame.number", "-e", "frame.time_epoch",
		"-e", "can.id", "-e", "can.flags.xtd", "-e", "can.len", "-e", "data.data")
	var want, got []string
	for i := range list {
		f := &list[i]
		extended := 0
		if f.Flags.Has(decode.Extended) {
			extended = 1
		}
		want = append(want, fmt.Sprintf("%d %d.%09d %X %d %d %x", f.Line, f.Time/1e9, f.Time%1e9, f.ID, extended, f.Len, f.Payload()))
	}
	for i, line := range strings.Split(strings.TrimSuffix(out, "\n"), "\n") {
		if list[i].Flags.Has(decode.Error) {
			want[i] = line
		}
		fields := strings.Split(line, "\t")
		if id, err := strconv.ParseUint(fields[2], 0, 32); err == nil { // tshark 4.0 writes ids in decimal, later versions in hexadecimal
			fields[2] = fmt.Sprintf("%X", id)
			fields[3] = strings.NewReplacer("True", "1", "False", "0").Replace(fields[3])
			line = strings.Join(fields, " ")
		}
		if list[i].Flags.Has(decode.Remote) { // tshark shows the padding
			line = line[:strings.LastIndexByte(line, ' ')+1]
		}
		got = append(got, line)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("%s: tshark understands otherwise (-lull +tshark):\n%s", name, diff)
	}
}

// The files in testdata/tools were made by text2pcap 4.0.17, as described in the README
// there.
func TestStoredFilesOfWiresharksProgramsGiveTheFramesOfTheLog(t *testing.T) {
	list := frames(t, log)
	for name, bus := range map[string]string{"micro.pcap": "can0", "nano.pcap": "can0", "named.pcapng": "body"} {
		data, err := os.ReadFile(filepath.Join("testdata", "tools", name))
		if err != nil {
			t.Fatal(err)
		}
		got, info, err := readAll(t, bytes.NewReader(data))
		if diff := cmp.Diff(onBus(list, bus), got); diff != "" || err != nil || info.Remarks != nil {
			t.Errorf("%s: error %v, %+v; frames (-want +got):\n%s", name, err, info.Remarks, diff)
		}
	}
}
