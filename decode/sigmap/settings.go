package sigmap

import (
	"fmt"
	"math"
	"strings"
	"time"

	"lull/decode"
)

// limits reads the limits of metrics.
func (k *compiler) limits(n *node) {
	if n == nil || n.shape == broken || n.shape == scalar && n.text == "" && !n.quoted {
		return
	}
	if n.shape != mapping {
		k.at(n, ErrType, "limits must be a mapping of metrics to their limits", "such as restart_latency: {max: 0.60}")
		return
	}
	for _, p := range n.pairs {
		known := contains(decode.MetricKeys, p.key.text)
		if !known {
			hint := "metrics: " + strings.Join(decode.MetricKeys, ", ")
			if near := nearest(p.key.text, decode.MetricKeys); near != "" {
				hint = "did you mean " + near + "?"
			}
			k.at(p.key, ErrUnknownMetric, fmt.Sprintf("there is no metric %s", p.key.shown()), hint)
		}
		if limit, ok := k.limit(p); ok && known {
			k.m.Limits = append(k.m.Limits, limit)
		}
	}
}

func (k *compiler) limit(p pair) (decode.Limit, bool) {
	limit := decode.Limit{Metric: p.key.text}
	f := k.fields(p.value, "the limit of "+p.key.text, "min", "max")
	if f == nil {
		return limit, false
	}
	low, high := f.get("min"), f.get("max")
	if low == nil && high == nil {
		k.at(f.node, ErrMissing, fmt.Sprintf("the limit of %s has neither min nor max", p.key.text), "give it min, max or both")
	}
	if low != nil {
		v, ok := k.num(low, "min")
		limit.Min, limit.HasMin = v.float, ok
	}
	if high != nil {
		v, ok := k.num(high, "max")
		limit.Max, limit.HasMax = v.float, ok
	}
	if limit.HasMin && limit.HasMax && limit.Min > limit.Max {
		k.at(high, ErrRange, fmt.Sprintf("max %s is below min %s", plain(limit.Max), plain(limit.Min)), "swap the two")
		return limit, false
	}
	return limit, limit.HasMin || limit.HasMax
}

// setting is a key of `settings` and the function that reads its value.
type setting struct {
	key  string
	read func(k *compiler, n *node, key string, s *decode.Settings)
}

// real returns a function that reads a plain number within a range, in the unit of the key.
func real(target func(*decode.Settings) *float64, low, high float64) func(*compiler, *node, string, *decode.Settings) {
	return func(k *compiler, n *node, key string, s *decode.Settings) {
		if v, ok := k.within(n, key, low, high); ok {
			*target(s) = v
		}
	}
}

// span returns a function that reads a duration of at least low.
func span(target func(*decode.Settings) *time.Duration, low time.Duration) func(*compiler, *node, string, *decode.Settings) {
	return func(k *compiler, n *node, key string, s *decode.Settings) {
		if v, ok := k.duration(n, key, low); ok {
			*target(s) = v
		}
	}
}

// The ranges are wide. They are meant to catch a wrong unit or a misplaced decimal point.
var settingTable = []setting{
	{"running_speed", real(func(s *decode.Settings) *float64 { return &s.RunningSpeed }, 1, 10000)},
	{"running_hold", span(func(s *decode.Settings) *time.Duration { return &s.RunningHold }, 0)},
	{"rest_speed", real(func(s *decode.Settings) *float64 { return &s.RestSpeed }, 0, 10000)},
	{"standstill_speed", real(func(s *decode.Settings) *float64 { return &s.StandstillSpeed }, 0, 50)},
	{"min_standstill", span(func(s *decode.Settings) *time.Duration { return &s.MinStandstill }, 0)},
	{"request_window", span(func(s *decode.Settings) *time.Duration { return &s.RequestWindow }, 0)},
	{"no_start_after", span(func(s *decode.Settings) *time.Duration { return &s.NoStartAfter }, time.Millisecond)},
	{"stale_after", span(func(s *decode.Settings) *time.Duration { return &s.StaleAfter }, time.Millisecond)},
	{"silence_factor", real(func(s *decode.Settings) *float64 { return &s.SilenceFactor }, 1, 10000)},
	{"idle_fuel_rate", real(func(s *decode.Settings) *float64 { return &s.IdleFuelRate }, 0, 1000)},
	{"restart_fuel", real(func(s *decode.Settings) *float64 { return &s.RestartFuel }, 0, 10000)},
	{"low_voltage", real(func(s *decode.Settings) *float64 { return &s.LowVoltage }, 0, 100)},
	{"event_delay", span(func(s *decode.Settings) *time.Duration { return &s.EventDelay }, 0)},
	{"system_voltage", systemVoltage},
	{"starter_limit", starterLimit},
}

func systemVoltage(k *compiler, n *node, key string, s *decode.Settings) {
	v, ok := k.num(n, key)
	switch {
	case !ok:
	case v.float != 12 && v.float != 24:
		k.at(n, ErrRange, fmt.Sprintf("system_voltage cannot be %s", n.text), "write 12 or 24")
	default:
		s.SystemVoltage = v.float
	}
}

func starterLimit(k *compiler, n *node, key string, s *decode.Settings) {
	if v, ok := k.wholeNumber(n, key, 0, math.MaxInt32, "%d"); ok {
		s.StarterLimit = float64(v)
	}
}

func (k *compiler) settings(n *node) {
	if n == nil || n.shape == scalar && n.text == "" && !n.quoted {
		return
	}
	keys := make([]string, len(settingTable))
	for i := range settingTable {
		keys[i] = settingTable[i].key
	}
	f := k.fields(n, "settings", keys...)
	if f == nil {
		return
	}
	before := len(k.list)
	for _, s := range settingTable {
		if v := f.get(s.key); v != nil {
			s.read(k, v, s.key, &k.m.Settings)
		}
	}
	running, rest := f.get("running_speed"), f.get("rest_speed")
	if len(k.list) > before || k.m.Settings.RestSpeed < k.m.Settings.RunningSpeed {
		return
	}
	at := rest
	if at == nil || running != nil && running.line > rest.line {
		at = running
	}
	k.at(at, ErrRange, fmt.Sprintf("running_speed %s is not above rest_speed %s", plain(k.m.Settings.RunningSpeed), plain(k.m.Settings.RestSpeed)), "an engine at rest cannot be running: raise running_speed or lower rest_speed")
}
