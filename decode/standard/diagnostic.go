package standard

import "fmt"

// Role is what an identifier of ISO 15765-4 is for.
type Role uint8

// The roles of identifiers of ISO 15765-4.
const (
	RequestToAll Role = iota // from the scan tool to every module
	Request                  // from the scan tool to one module
	Response                 // from a module to the scan tool
)

// Identifier is an identifier that ISO 15765-4 gives to diagnosis.
type Identifier struct {
	Role Role
	// Module is the number of the engine's module from 1 for 11-bit identifiers, the
	// module's address for 29-bit ones; 0 for requests to all.
	Module   uint8
	Extended bool
}

// Diagnostic gives what ISO 15765-4 uses an identifier for (published, confirmed by public
// sources): 7DF, 7E0 to 7E7 and 7E8 to 7EF, 18DB33F1, 18DAxxF1 and 18DAF1xx.
func Diagnostic(id uint32, extended bool) (Identifier, bool) {
	x := Identifier{Extended: extended}
	switch {
	case !extended && id == 0x7DF, extended && id == 0x18DB33F1:
		x.Role = RequestToAll
	case !extended && id >= 0x7E0 && id <= 0x7E7:
		x.Role, x.Module = Request, uint8(id-0x7E0)+1
	case !extended && id >= 0x7E8 && id <= 0x7EF:
		x.Role, x.Module = Response, uint8(id-0x7E8)+1
	case extended && id&^0xFF == 0x18DAF100:
		x.Role, x.Module = Response, uint8(id)
	case extended && id&^0xFF00 == 0x18DA00F1:
		x.Role, x.Module = Request, uint8(id>>8)
	default:
		return Identifier{}, false
	}
	return x, true
}

// String is the identifier in plain words.
func (x Identifier) String() string {
	module := fmt.Sprintf("module %d", x.Module)
	if x.Extended {
		module = fmt.Sprintf("module %02X", x.Module)
	}
	switch x.Role {
	case Request:
		return "request to " + module + " (ISO 15765-4)"
	case Response:
		return "answer of " + module + " (ISO 15765-4)"
	}
	return "request to all modules (ISO 15765-4)"
}
