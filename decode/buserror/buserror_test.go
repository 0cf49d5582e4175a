package buserror

import (
	"strings"
	"testing"

	"go.einride.tech/can"
	"go.einride.tech/can/pkg/socketcan"
	"pgregory.net/rapid"

	"lull/decode"
)

func frame(class uint32, d ...byte) *decode.Frame {
	f := &decode.Frame{ID: class, Flags: decode.Error, Len: 8}
	copy(f.Data[:], d)
	return f
}

// Classes and details are numbered as in linux/can/error.h.
func TestErrorsAreDescribedInWords(t *testing.T) {
	for _, test := range []struct {
		f    *decode.Frame
		want string
	}{
		{frame(0x001), "sending timed out"},
		{frame(0x002), "lost arbitration"},
		{frame(0x002, 5), "lost arbitration in bit 5"},
		{frame(0x004), "controller problem"},
		{frame(0x004, 0, 0x01), "controller: receive buffer overflowed, frames were lost"},
		{frame(0x004, 0, 0x02), "controller: send buffer overflowed"},
		{frame(0x004, 0, 0x04), "controller: warning level of receive errors reached"},
		{frame(0x004, 0, 0x0C), "controller: warning level of receive errors reached, warning level of send errors reached"},
		{frame(0x004, 0, 0x10), "controller: error passive because of receive errors"},
		{frame(0x004, 0, 0x20), "controller: error passive because of send errors"},
		{frame(0x004, 0, 0x40), "controller: error active again"},
		{frame(0x004, 0, 0x80), "controller: unknown detail 0x80"},
		{frame(0x008), "protocol violation"},
		{frame(0x008, 0, 0, 0x84, 0x08), "protocol violation: bit stuffing was broken, while sending, in the CRC"},
		{frame(0x008, 0, 0, 0, 0x19), "protocol violation, in the acknowledge slot"},
		{frame(0x008, 0, 0, 0x02, 0x1F), "protocol violation: the frame format was wrong, at an unknown place, 0x1F"},
		{frame(0x010), "transceiver problem"},
		{frame(0x010, 0, 0, 0, 0, 0x47), "transceiver: CAN high is shorted to ground, CAN low is not connected"},
		{frame(0x010, 0, 0, 0, 0, 0x80), "transceiver: CAN low is shorted to CAN high"},
		{frame(0x010, 0, 0, 0, 0, 0x09), "transceiver: unknown detail 0x09"},
		{frame(0x020), "no node acknowledged a frame that the interface sent"},
		{frame(0x040), "bus off: the interface has left the bus"},
		{frame(0x080), "bus error"},
		{frame(0x100), "the interface came back to the bus"},
		{frame(0x200, 0, 0, 0, 0, 0, 0, 95, 96), "error counters: send below 96, error active, receive from 96 on, warning"},
		{frame(0x200, 0, 0, 0, 0, 0, 0, 127, 128), "error counters: send from 96 on, warning, receive from 128 on, error passive"},
		{frame(0x060), "no node acknowledged a frame that the interface sent; bus off: the interface has left the bus"},
		{frame(0x10000001), "sending timed out; unknown class 0x10000000"},
		{frame(0), "no class given"},
		{&decode.Frame{ID: 4, Flags: decode.Error}, "controller problem"},
	} {
		if got := Of(test.f).String(); got != test.want {
			t.Errorf("%03X %X:\n got %q\nwant %q", test.f.ID, test.f.Payload(), got, test.want)
		}
	}
}

// Payload bytes of an error frame that do not belong to its classes do not make it another
// kind.
func TestDetailsOfOtherClassesAreIgnored(t *testing.T) {
	if a, b := Of(frame(0x004, 1, 4, 3, 4, 5, 6, 7, 8)), Of(frame(0x004, 9, 4)); a != b {
		t.Errorf("%+v is not %+v", a, b)
	}
}

// Each place and each wire that the CAN library knows has a text of its own.
func TestEveryDetailHasAText(t *testing.T) {
	seen := map[string]byte{}
	for b := range 256 {
		location := socketcan.ProtocolViolationErrorLocation(b)
		known := !strings.Contains(location.String(), "(")
		text := Of(frame(0x008, 0, 0, 0, byte(b))).String()
		if known == strings.Contains(text, "unknown") {
			t.Errorf("%v: %q", location, text)
		}
		if other, twice := seen[text]; twice {
			t.Errorf("0x%02X and 0x%02X are both %q", b, other, text)
		}
		seen[text] = byte(b)
		wire := socketcan.TransceiverError(b)
		if known := !strings.Contains(wire.String(), "("); known {
			if text := Of(frame(0x010, 0, 0, 0, 0, byte(b))).String(); strings.Contains(text, "unknown") {
				t.Errorf("%v: %q", wire, text)
			}
		}
	}
}

// The CAN library finds the same details in the same bytes.
func TestDetailsAreThoseOfTheLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		class := uint32(1) << rapid.IntRange(0, 8).Draw(t, "class")
		data := rapid.SliceOfN(rapid.Byte(), 8, 8).Draw(t, "data")
		var raw socketcan.Frame
		bytes := make([]byte, 16)
		var plain can.Frame
		plain.ID, plain.Length = class, 8
		copy(plain.Data[:], data)
		raw.EncodeFrame(plain)
		raw.MarshalBinary(bytes)
		raw.UnmarshalBinary(bytes)
		want := raw.DecodeErrorFrame()
		got := Of(frame(class, data...))
		k := Kind{class: want.ErrorClass}
		switch want.ErrorClass {
		case socketcan.ErrorClassLostArbitration:
			k.bit = want.LostArbitrationBit
		case socketcan.ErrorClassController:
			k.controller = want.ControllerError
		case socketcan.ErrorClassProtocolViolation:
			k.protocol, k.location = want.ProtocolError, want.ProtocolViolationErrorLocation
		case socketcan.ErrorClassTransceiver:
			k.transceiver = want.TransceiverError
		}
		if got != k {
			t.Errorf("%+v, the library says %+v", got, want)
		}
	})
}
