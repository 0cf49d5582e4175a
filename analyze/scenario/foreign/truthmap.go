package foreign

import (
	"fmt"
	"strings"
)

// place is a field and where it is sent.
type place struct {
	field   *field
	message *message // nil for an answer of the scan tool
	sender  *sender
	pid     byte
}

// places lists all fields of the bus, in the order in which they were drawn.
func (l *layout) places() []place {
	var all []place
	for _, s := range l.senders {
		for _, m := range s.messages {
			for _, f := range m.fields {
				all = append(all, place{f, m, s, 0})
			}
		}
	}
	if l.tool != nil {
		for _, a := range asked {
			if f := l.tool.answers[a.pid]; f != nil {
				all = append(all, place{f, nil, nil, a.pid})
			}
		}
	}
	return all
}

// cost is how badly a place tells what it tells: its age in s.
func (p *place) cost(l *layout) float64 {
	f := p.field
	c := mul(0.001, float64(f.late)) + f.lag + mul(0.0005, float64(f.holds))
	switch {
	case p.sender == nil:
		c += 5 // only where nothing else tells it
	case p.sender.changes:
		c += 0.01
	default:
		c += mul(0.5, float64(p.sender.period)/1e9*float64(len(p.sender.messages)))
	}
	if off := f.gain; p.message != nil && (off > 1.004 || off < 0.996) && f.unit == "" {
		c += 2 // a wheel, or a display that flatters
	}
	if f.of == turnLever {
		c += 3 // it is no lamp
	}
	if isWheel(f.of) {
		c += 1
	}
	if f.of == turnRight || f.inverts {
		c += 0.001
	}
	if f.each > 9 && f.of == engineSpeed {
		c += 0.03
	}
	return c
}

// best gives the place that tells a role best.
func (l *layout) best(role string) (place, bool) {
	var best place
	found := false
	for _, p := range l.places() {
		if p.field.role == role && (!found || p.cost(l) < best.cost(l)) {
			best, found = p, true
		}
	}
	return best, found
}

// roleNames lists what a true map tells, in its order.
var roleNames = []string{
	"engine_speed", "vehicle_speed", "battery_voltage", "battery_current", "battery_charge", "module_supply", "fuel_rate",
	"hold_pressure", "acceleration", "stop_command", "starter_command", "ignition", "starter_count", "inhibit_code",
	"brake", "turn", "steering", "coolant", "gear",
}

// unitOf gives the units that maps write.
var unitOf = map[string]string{
	"engine_speed": "rpm", "vehicle_speed": "km/h", "battery_voltage": "V", "battery_current": "A", "battery_charge": "%", "module_supply": "V",
	"fuel_rate": "L/h", "hold_pressure": "kPa", "acceleration": "m/s2", "steering": "deg", "coolant": "degC",
}

// mapText is the true map.
func (l *layout) mapText(name string) []byte {
	var t strings.Builder
	fmt.Fprintf(&t, "format: 1\nvehicle: %s\nnotes: the truth about a made-up car\nframes:\n", name)
	var chosen []place
	named := map[string]string{}
	for _, role := range roleNames {
		if p, ok := l.best(role); ok {
			chosen = append(chosen, p)
			named[role] = p.field.name
		}
	}
	done := map[*sender]bool{}
	for _, p := range chosen {
		switch {
		case p.message == nil:
			fmt.Fprintf(&t, "  - obd: {mode: 0x01, pid: 0x%02X, response: 0x7E8}\n    signals:\n", p.pid)
			t.WriteString(p.field.text())
		case !done[p.sender]:
			done[p.sender] = true
			l.frameText(&t, p, chosen)
		}
	}
	var requests []string
	if name, ok := named["brake"]; ok {
		requests = append(requests, fmt.Sprintf("{name: brake released, by: driver, when: {signal: %s, is: released}}", name))
	}
	if name, ok := named["turn"]; ok {
		requests = append(requests, fmt.Sprintf("{name: turn lamp, by: driver, bridge: 800ms, when: {signal: %s, is_not: \"off\"}}", name))
	}
	if name, ok := named["steering"]; ok {
		requests = append(requests, fmt.Sprintf("{name: steering moved, by: driver, when: {signal: %s, moves: 15}}", name))
	}
	if name, ok := named["battery_charge"]; ok {
		requests = append(requests, fmt.Sprintf("{name: battery low, by: system, when: {signal: %s, below: 65}}", name))
	}
	if len(requests) > 0 {
		fmt.Fprintf(&t, "restart_requests:\n  - %s\n", strings.Join(requests, "\n  - "))
	}
	if l.kind == J1939 {
		t.WriteString("settings: {system_voltage: 24, low_voltage: 19.2}\n")
	}
	return []byte(t.String())
}

// frameText writes one frame with all chosen signals in it.
func (l *layout) frameText(t *strings.Builder, p place, chosen []place) {
	m := p.message
	switch {
	case m.pgn != 0:
		fmt.Fprintf(t, "  - pgn: %d\n    source: 0x%02X\n", m.pgn, m.id&0xFF)
	default:
		fmt.Fprintf(t, "  - id: 0x%X\n", m.id)
		if m.extended {
			t.WriteString("    extended: true\n")
		}
	}
	fmt.Fprintf(t, "    bus: %s\n    module: %s\n", m.bus, m.module)
	if p.sender.changes {
		fmt.Fprintf(t, "    sent: on_change\n    period: %dms\n", p.sender.period/ms)
	}
	t.WriteString("    signals:\n")
	if m.pageBits != nil {
		fmt.Fprintf(t, "      %s: {start: %d, length: %d}\n", m.pageName(), m.pageBits[len(m.pageBits)-1], len(m.pageBits))
	}
	for _, q := range chosen {
		if q.sender == p.sender {
			text := q.field.text()
			if m.pageBits != nil {
				text = strings.TrimSuffix(text, "}\n") + fmt.Sprintf(", when: {%s: %d}}\n", m.pageName(), q.message.page)
			}
			t.WriteString(text)
		}
	}
}

func (m *message) pageName() string { return fmt.Sprintf("page_%x", m.id) }

// text is the field's line in a map.
func (f *field) text() string {
	parts := []string{fmt.Sprintf("start: %d", f.start), fmt.Sprintf("length: %d", f.length)}
	add := func(format string, args ...any) { parts = append(parts, fmt.Sprintf(format, args...)) }
	if f.big {
		add("order: big")
	}
	if f.signed {
		add("signed: true")
	}
	if f.factor != "" && f.factor != "1" {
		add("factor: %s", f.factor)
	}
	if f.offset != "" && f.offset != "0" {
		add("offset: %s", f.offset)
	}
	unit := unitOf[f.role]
	if f.unit != "" {
		unit = f.unit
	}
	if unit != "" {
		add("unit: %q", unit)
	}
	switch f.role {
	case "brake":
		add("values: {%d: released, %d: pressed}", f.off(), 1-f.off())
	case "turn":
		if f.of == turnLamp {
			add(`values: {0: "off", 1: left, 2: right}`)
		} else {
			add(`values: {%d: "off", %d: "on"}`, f.off(), 1-f.off())
		}
	case "inhibit_code":
		add("role: inhibit_code")
		add("values: {0: none, 4: battery refresh charge, 5: battery charge low, 6: brake vacuum weak}")
	case "steering", "coolant", "gear":
	default:
		add("role: %s", f.role)
	}
	if f.inverts && f.role != "brake" && f.role != "turn" {
		add("active: [0]")
	}
	if active := f.activeText(); active != "" {
		add("active: %s", active)
	}
	if f.absent {
		add("invalid: [%d]", int64(1)<<f.length-1)
	}
	return fmt.Sprintf("      %s: {%s}\n", f.name, strings.Join(parts, ", "))
}

// activeText lists the active raw values of a state that is no plain flag.
func (f *field) activeText() string {
	if f.of == starterMode {
		return "[1, 2]"
	}
	return ""
}

// off is the raw value of a flag that is off.
func (f *field) off() int {
	if f.inverts {
		return 1
	}
	return 0
}
