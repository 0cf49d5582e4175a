package fromdbc

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"lull/decode"
	"lull/pkg/failure"
	"lull/pkg/spelling"
	"lull/pkg/units"
)

// choose marks the signals that are wanted.
func (k *converter) choose(patterns []string) error {
	if len(patterns) == 0 {
		for _, s := range k.list {
			s.wanted = true
		}
		return nil
	}
	for _, pattern := range patterns {
		any := false
		form := globForm(pattern)
		for _, s := range k.list {
			if form.MatchString(s.signal.Field.Name) || form.MatchString(s.full) {
				s.wanted, any = true, true
			}
		}
		if !any {
			return &failure.Failure{What: fmt.Sprintf("--signals %s: the database has no such signal", pattern), Hint: k.near(pattern)}
		}
	}
	return nil
}

// globForm is a pattern with * and ?, upper and lower case the same.
func globForm(pattern string) *regexp.Regexp {
	text := regexp.QuoteMeta(strings.TrimSpace(pattern))
	text = strings.NewReplacer(`\*`, ".*", `\?`, ".").Replace(text)
	return regexp.MustCompile("(?is)^" + text + "$")
}

// near is a hint which signals may be meant.
func (k *converter) near(word string) string {
	type near struct {
		name     string
		distance int
	}
	var found []near
	lower := strings.ToLower(strings.Trim(word, "*?"))
	for _, s := range k.list {
		name := strings.ToLower(s.signal.Field.Name)
		d := spelling.Distance(lower, name)
		if len(lower) >= 3 && strings.Contains(name, lower) {
			d = 0
		}
		if d <= max(1, len(lower)/3) {
			found = append(found, near{s.full, d})
		}
	}
	if len(found) == 0 {
		return "lull map from FILE.dbc without --signals shows all; * stands for any letters, as in --signals '*speed*'"
	}
	slices.SortStableFunc(found, func(a, b near) int { return cmp.Compare(a.distance, b.distance) })
	var names []string
	for _, n := range found[:min(3, len(found))] {
		names = append(names, n.name)
	}
	return "did you mean " + strings.Join(names, " or ") + "?"
}

// give gives signals their roles, which makes them wanted.
func (k *converter) give(roles []RoleOf) error {
	given := map[decode.Role]bool{}
	for _, r := range roles {
		where := fmt.Sprintf("--roles %s=%s", r.Role, r.Signal)
		var found []*signal
		for _, s := range k.list {
			if strings.EqualFold(s.signal.Field.Name, r.Signal) || strings.EqualFold(s.full, r.Signal) {
				found = append(found, s)
			}
		}
		if exact := exactly(found, r.Signal); len(found) > 1 && len(exact) > 0 {
			found = exact
		}
		spec := decode.Roles[r.Role]
		switch {
		case len(found) == 0:
			return &failure.Failure{What: where + ": the database has no such signal", Hint: k.near(r.Signal)}
		case len(found) > 1:
			var names []string
			for _, s := range found {
				names = append(names, s.full)
			}
			return &failure.Failure{What: where + ": several messages have this signal", Hint: "name one of " + some(names)}
		case given[r.Role]:
			return &failure.Failure{What: where + ": the role is given twice", Hint: "only one signal can have a role"}
		case found[0].role != decode.NoRole:
			return &failure.Failure{What: fmt.Sprintf("%s: the signal has the role %s already", where, found[0].role), Hint: "a signal can have one role"}
		case r.Role == decode.InhibitCode && len(found[0].signal.Field.Labels) == 0:
			return &failure.Failure{What: where + ": the database has no words for its values", Hint: "without them no reason can be told: leave the role out"}
		}
		s := found[0]
		given[r.Role] = true
		s.role, s.unit, s.wanted = r.Role, r.Unit, true
		unit := s.unitText()
		if spec.Unit == "" {
			continue
		}
		possible := strings.Join(units.Like(spec.Unit), ", ")
		how := fmt.Sprintf("if you know it, give the unit: --roles %s=%s:%s; possible are %s", r.Role, r.Signal, spec.Unit, possible)
		if _, err := units.Convert(unit, spec.Unit); err != nil {
			if unit == "" {
				return &failure.Failure{What: where + ": the database gives it no unit", Hint: how}
			}
			return &failure.Failure{What: fmt.Sprintf("%s: the unit %q is none of the role", where, unit), Hint: how}
		}
	}
	return nil
}

// exactly keeps the signals whose name is the one given letter for letter.
func exactly(list []*signal, name string) []*signal {
	return slices.DeleteFunc(slices.Clone(list), func(s *signal) bool { return s.signal.Field.Name != name && s.full != name })
}

func some(names []string) string {
	const most = 6
	if len(names) > most {
		names = append(names[:most:most], fmt.Sprintf("%d more", len(names)-most))
	}
	return strings.Join(names, ", ")
}

// speedWords are parts of names that speak of the engine's speed.
var speedWords = []string{"engspd", "engspeed", "engine_speed", "enginespeed", "engrpm", "eng_spd", "eng_speed", "rpm", "nmot", "n_mot", "crank", "drehzahl"}

// otherWords are parts of names of other speeds, and of those that are only wished for.
var otherWords = []string{"fan", "turb", "pump", "pto", "gear", "trn", "trans", "shaft", "clutch", "idle", "tgt", "target", "soll", "desired", "req", "limit", "max", "min", "em1", "emotor"}

// speeds returns up to six signals that may be the engine's speed, those with a fitting unit
// and name first. It looks at words alone and decides nothing.
func (k *converter) speeds() []string {
	type guess struct {
		name   string
		weight int
	}
	var list []guess
	for _, s := range k.list {
		weight := 0
		unit, known := units.Name(s.signal.Unit)
		switch {
		case unit == "rpm":
			weight = 2
		case known:
			continue
		}
		name := strings.ToLower(s.signal.Field.Name)
		if slices.ContainsFunc(speedWords, func(w string) bool { return strings.Contains(name, w) }) {
			weight++
		}
		if slices.ContainsFunc(otherWords, func(w string) bool { return strings.Contains(name, w) }) {
			weight -= 2
		}
		if weight > 0 && s.out == "" && s.signal.Field.Length > 7 {
			list = append(list, guess{s.full, weight})
		}
	}
	slices.SortStableFunc(list, func(a, b guess) int { return cmp.Compare(b.weight, a.weight) })
	var names []string
	for _, g := range list[:min(6, len(list))] {
		names = append(names, g.name)
	}
	return names
}
