package standard

import (
	"fmt"
	"math"
	"strconv"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// What the lowest and the highest bytes stand for, as handbooks give it instead of a factor;
// from memory, without a look at the table.
func TestPIDsSpanWhatTheirBytesCanSay(t *testing.T) {
	want := map[uint8][2]float64{
		0x04: {0, 100}, 0x05: {-40, 215}, 0x0A: {0, 765}, 0x0B: {0, 255}, 0x0C: {0, 16383.75}, 0x0D: {0, 255}, 0x0E: {-64, 63.5}, 0x0F: {-40, 215},
		0x10: {0, 655.35}, 0x11: {0, 100}, 0x1F: {0, 65535}, 0x21: {0, 65535}, 0x2F: {0, 100}, 0x30: {0, 255}, 0x31: {0, 65535}, 0x33: {0, 255},
		0x42: {0, 65.535}, 0x43: {0, 25700}, 0x45: {0, 100}, 0x46: {-40, 215}, 0x47: {0, 100}, 0x49: {0, 100}, 0x4A: {0, 100}, 0x4B: {0, 100},
		0x4C: {0, 100}, 0x4D: {0, 65535}, 0x4E: {0, 65535}, 0x5A: {0, 100}, 0x5B: {0, 100}, 0x5C: {-40, 215}, 0x5E: {0, 3276.75},
		0x61: {-125, 130}, 0x62: {-125, 130}, 0x63: {0, 65535},
	}
	for pid := range 256 {
		p, ok := FindPID(uint8(pid))
		span, wanted := want[uint8(pid)]
		if ok != wanted {
			t.Errorf("%02X is a number: %v", pid, ok)
			continue
		}
		if most := math.Exp2(float64(8*p.Bytes)) - 1; ok && (p.Value(0) != span[0] || math.Abs(p.Value(int64(most))-span[1]) > 1e-9) {
			t.Errorf("%02X: %v to %v, want %v", pid, p.Value(0), p.Value(int64(most)), span)
		}
	}
}

func TestPIDsThatAreNoNumbersHaveANameToo(t *testing.T) {
	spans := []struct {
		from, to int
		name     string
	}{
		{0x01, 0x01, "warning lamp and monitors"}, {0x03, 0x03, "state of the fuel system"}, {0x06, 0x09, "fuel trim"}, {0x13, 0x13, "oxygen sensors present"},
		{0x14, 0x1B, "oxygen sensor"}, {0x1C, 0x1C, "OBD standard followed"}, {0x1D, 0x1D, "oxygen sensors present"}, {0x24, 0x2B, "oxygen sensor"},
		{0x34, 0x3B, "oxygen sensor"}, {0x51, 0x51, "kind of fuel"},
	}
	for pid := range 256 {
		want := ""
		for _, s := range spans {
			if pid >= s.from && pid <= s.to {
				want = s.name
			}
		}
		if pid%32 == 0 {
			want = fmt.Sprintf("which of the next 32 PIDs are supported (from %02X on)", pid+1)
		}
		if p, ok := FindPID(uint8(pid)); ok {
			want = p.Name
		}
		if got := PIDName(uint8(pid)); got != want {
			t.Errorf("%02X: %q, want %q", pid, got, want)
		}
	}
}

// As handbooks write it, from memory: bytes and bits count from 1, and the highest value is
// the last before the numbers that stand for faults and for what is not there.
func TestParametersLieWhereHandbooksPutThem(t *testing.T) {
	want := map[uint32][]string{
		61442: {"191 at 2.1, 16 bits: 0 to 8031.875 rpm", "161 at 6.1, 16 bits: 0 to 8031.875 rpm"},
		61443: {"558 at 1.1, 2 bits", "91 at 2.1, 8 bits: 0 to 100 %", "92 at 3.1, 8 bits: 0 to 250 %"},
		61444: {"899 at 1.1, 4 bits", "512 at 2.1, 8 bits: -125 to 125 %", "513 at 3.1, 8 bits: -125 to 125 %", "190 at 4.1, 16 bits: 0 to 8031.875 rpm", "1675 at 7.1, 4 bits"},
		61445: {"524 at 1.1, 8 bits: -125 to 125 ", "523 at 4.1, 8 bits: -125 to 125 "},
		64914: {"3543 at 1.1, 4 bits", "6385 at 1.7, 2 bits"},
		65215: {"904 at 1.1, 16 bits: 0 to 250.996 km/h"},
		65248: {"244 at 1.1, 32 bits: 0 to 526385151.875 km", "245 at 5.1, 32 bits: 0 to 526385151.875 km"},
		65252: {"593 at 1.1, 2 bits"},
		65253: {"247 at 1.1, 32 bits: 0 to 210554060.75 h"},
		65262: {"110 at 1.1, 8 bits: -40 to 210 °C", "175 at 3.1, 16 bits: -273 to 1734.969 °C"},
		65263: {"100 at 4.1, 8 bits: 0 to 1000 kPa"},
		65265: {"70 at 1.3, 2 bits", "84 at 2.1, 16 bits: 0 to 250.996 km/h", "597 at 4.5, 2 bits", "598 at 4.7, 2 bits"},
		65266: {"183 at 1.1, 16 bits: 0 to 3212.75 L/h", "184 at 3.1, 16 bits: 0 to 125.498 km/L"},
		65269: {"171 at 4.1, 16 bits: -273 to 1734.969 °C"},
		65271: {"114 at 1.1, 8 bits: -125 to 125 A", "167 at 3.1, 16 bits: 0 to 3212.75 V", "168 at 5.1, 16 bits: 0 to 3212.75 V", "158 at 7.1, 16 bits: 0 to 3212.75 V"},
		65276: {"96 at 2.1, 8 bits: 0 to 100 %"},
	}
	got := map[uint32][]string{}
	for _, g := range Groups() {
		for _, p := range g.Parameters {
			line := fmt.Sprintf("%d at %d.%d, %d bits", p.SPN, p.Start/8+1, p.Start%8+1, p.Bits)
			if p.Bits >= 8 {
				most := float64(0xFB)*math.Exp2(float64(p.Bits-8)) - 1
				highest := strconv.FormatFloat(math.Round((most*p.Factor+p.Offset)*1000)/1000, 'f', -1, 64)
				line += fmt.Sprintf(": %v to %s %s", p.Offset, highest, p.Unit)
			} else if p.Factor != 1 || p.Offset != 0 {
				t.Errorf("%d: a state of %d bits is scaled", p.SPN, p.Bits)
			}
			got[g.PGN] = append(got[g.PGN], line)
		}
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("parameters (-want +got):\n%s", diff)
	}
}

// Beside each word of ours stands what the standards call it, from memory.
func TestServicesAndRefusalsHaveTheirNumbers(t *testing.T) {
	type named struct {
		standard string
		number   uint8
		ours     string
	}
	for name, c := range map[string]struct {
		find func(uint8) string
		want []named
	}{
		"service": {ServiceName, []named{
			{"request current powertrain diagnostic data", 0x01, "current values"},
			{"request powertrain freeze frame data", 0x02, "freeze frame"},
			{"request emission-related diagnostic trouble codes", 0x03, "stored trouble codes"},
			{"clear emission-related diagnostic information", 0x04, "trouble codes cleared"},
			{"request oxygen sensor monitoring test results", 0x05, "oxygen sensor tests"},
			{"request on-board monitoring test results", 0x06, "test results"},
			{"request trouble codes of the current driving cycle", 0x07, "pending trouble codes"},
			{"request control of on-board system", 0x08, "control of a system"},
			{"request vehicle information", 0x09, "vehicle information"},
			{"request trouble codes with permanent status", 0x0A, "permanent trouble codes"},
			{"DiagnosticSessionControl", 0x10, "diagnostic session"},
			{"ECUReset", 0x11, "reset of the module"},
			{"ClearDiagnosticInformation", 0x14, "trouble codes cleared"},
			{"ReadDTCInformation", 0x19, "trouble codes read"},
			{"ReadDataByIdentifier", 0x22, "values by identifier"},
			{"ReadMemoryByAddress", 0x23, "memory read"},
			{"SecurityAccess", 0x27, "security access"},
			{"CommunicationControl", 0x28, "communication control"},
			{"WriteDataByIdentifier", 0x2E, "values written"},
			{"InputOutputControlByIdentifier", 0x2F, "outputs controlled"},
			{"RoutineControl", 0x31, "routine"},
			{"RequestDownload", 0x34, "download"},
			{"TransferData", 0x36, "data transferred"},
			{"RequestTransferExit", 0x37, "transfer ended"},
			{"TesterPresent", 0x3E, "tester present"},
			{"ControlDTCSetting", 0x85, "trouble codes switched"},
		}},
		"refusal": {RefusalName, []named{
			{"generalReject", 0x10, "refused without a reason"},
			{"serviceNotSupported", 0x11, "it has no such service"},
			{"subFunctionNotSupported", 0x12, "it has no such value"},
			{"incorrectMessageLengthOrInvalidFormat", 0x13, "the request has a wrong length"},
			{"conditionsNotCorrect", 0x22, "not in this state"},
			{"requestOutOfRange", 0x31, "it has no such number"},
			{"securityAccessDenied", 0x33, "access is locked"},
			{"invalidKey", 0x35, "wrong key"},
			{"requestCorrectlyReceived-ResponsePending", 0x78, "the answer comes later"},
			{"serviceNotSupportedInActiveSession", 0x7F, "not in this session"},
		}},
	} {
		want := map[uint8]string{}
		for _, n := range c.want {
			want[n.number] = n.ours
		}
		for number := range 256 {
			if got := c.find(uint8(number)); got != want[uint8(number)] {
				t.Errorf("%s %02X: %q, want %q", name, number, got, want[uint8(number)])
			}
		}
	}
}
