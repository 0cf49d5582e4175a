package sigmap

import (
	"fmt"
	"strings"

	"lull/decode"
	"lull/pkg/units"
)

// role reads the role of a signal.
func (k *compiler) role(index int) {
	s, state := &k.m.Signals[index], &k.signals[index]
	f := state.fields
	n := f.get("role")
	if n == nil {
		k.onlyOn(f, "active", "stop_command, starter_command or ignition")
		k.onlyOn(f, "clear", "inhibit_code")
		return
	}
	name, ok := k.str(n, "role")
	if !ok {
		k.roleLost = true
		return
	}
	r, known := decode.RoleByName(name)
	if !known {
		k.roleLost = true
		var names []string
		for i := decode.NoRole + 1; i < decode.RoleCount; i++ {
			names = append(names, i.String())
		}
		hint := "roles: " + strings.Join(names, ", ")
		near := nearest(name, names)
		if near != "" {
			hint = "did you mean " + near + "?"
		}
		k.at(n, ErrRole, fmt.Sprintf("there is no role %s", n.shown()), hint)
		// Check the unit against the role that was most likely meant, so that both
		// mistakes of a line are reported at once.
		if r, meant := decode.RoleByName(near); meant {
			k.roleUnit(s, f, n, decode.Roles[r])
		}
		return
	}
	other := k.m.Role[r]
	switch {
	case state.twice:
	case other < 0:
		k.m.Role[r] = index
	default:
		k.at(n, ErrDuplicate, fmt.Sprintf("the role %s is given twice", r), fmt.Sprintf("%s already has it (line %d): only one signal can have a role", k.m.Signals[other].Name, k.m.Signals[other].Line))
		return
	}
	s.Role = r
	spec := decode.Roles[r]
	k.roleUnit(s, f, n, spec)
	if spec.Switch && s.Float {
		k.at(n, ErrRole, fmt.Sprintf("the role %s is on or off, and a float is neither", r), "leave float out")
	}
	if spec.Switch {
		if v := f.get("active"); v != nil {
			s.Active, s.HasActive = k.rawsOf(v, "active", index)
		}
	} else {
		k.onlyOn(f, "active", "stop_command, starter_command or ignition")
	}
	if r != decode.InhibitCode {
		k.onlyOn(f, "clear", "inhibit_code")
		return
	}
	if f.get("values") == nil {
		k.at(n, ErrRole, "an inhibit_code needs `values`", "give each code its reason, such as values: {0: none, 1: coolant cold}")
	}
	s.Clear = []int64{0}
	if v := f.get("clear"); v != nil {
		s.Clear, _ = k.rawsOf(v, "clear", index)
	}
}

func (k *compiler) onlyOn(f *fields, key, owner string) {
	if at := f.keys[key]; at != nil {
		k.at(at, ErrRole, fmt.Sprintf("%s belongs to the role %s", key, owner), "leave it out, or give the signal that role")
	}
}

// roleUnit sets the conversion to the role's unit. A unit is never assumed: kPa taken for bar
// would be a hundredfold error that nothing would reveal.
func (k *compiler) roleUnit(s *decode.Signal, f *fields, role *node, spec decode.RoleSpec) {
	n := f.get("unit")
	switch {
	case spec.Unit == "" && n != nil && n.shape != broken:
		k.at(n, ErrUnit, fmt.Sprintf("the role %s has no unit", spec.Name), "leave unit out")
		return
	case spec.Unit == "":
		return
	case n != nil && s.Unit == "": // reported already
		return
	case n == nil:
		k.at(role, ErrUnit, fmt.Sprintf("the role %s needs the signal's unit", spec.Name), "add `unit:` with the unit in which it is sent: "+strings.Join(units.Like(spec.Unit), ", "))
		return
	}
	c, err := units.Convert(s.Unit, spec.Unit)
	if err != nil {
		hint := "possible units: " + strings.Join(units.Like(spec.Unit), ", ")
		why := fmt.Sprintf("unknown unit %s", n.shown())
		if unknown, ok := err.(*units.UnknownError); ok {
			if contains(units.Like(spec.Unit), unknown.Near) {
				hint = "did you mean " + unknown.Near + "? " + hint
			}
		} else {
			why = fmt.Sprintf("the role %s cannot be in %s", spec.Name, s.Unit)
		}
		k.at(n, ErrUnit, why, hint)
		return
	}
	if c != (units.Conversion{Mul: 1, Div: 1}) {
		s.ToRole = c
	}
}
