package draft

import (
	"strings"
	"unicode"

	"lull/pkg/units"
)

// role is how words and units of a database speak for a quantity. Words only nominate:
// physics and agreement between modules choose.
type role struct {
	what  Quantity
	words map[string]float64
	// number says that the quantity has a unit.
	number bool
	// low and high are what a vehicle can have, in the unit of the quantity.
	low, high float64
	longest   int // bits, of what has no unit; 0: any
}

// roles weigh the words in the names of signals, from what such names have in common.
var roles = []role{
	{what: EngineSpeed, number: true, low: 0, high: 9000,
		words: map[string]float64{"rpm": 3, "n": 1.5, "nmot": 3, "eng": 2, "engine": 2, "motor": 1, "speed": 1, "spd": 1, "drehzahl": 2, "crank": 1, "ke": -1, "idle": -3, "target": -4, "tgt": -4, "desired": -4, "des": -3, "soll": -4, "wunsch": -4, "req": -4, "rq": -4, "limit": -4, "max": -3, "min": -3, "turbine": -4, "turb": -4, "turbo": -4, "abtrieb": -4, "getriebe": -3, "luefter": -4, "tc": -2, "input": -3, "output": -4, "trans": -2, "oil": -4, "pump": -4, "fan": -4, "shaft": -3, "filt": -1}},
	{what: VehicleSpeed, number: true, low: -1, high: 300,
		words: map[string]float64{"veh": 3, "vehicle": 3, "v": 1, "vs": 3, "speed": 2, "spd": 2, "geschw": 2, "geschwindigkeit": 2, "road": 2, "car": 1, "xmission": 1, "wheel": -1.5, "whl": -1.5, "wspd": -1.5, "rad": -1.5, "fl": -1, "fr": -1, "rl": -1, "rr": -1, "set": -5, "target": -4, "soll": -4, "wunsch": -4, "cruise": -4, "limit": -5, "req": -4, "rel": -3, "wind": -4, "navi": -3, "display": -1, "angez": -1, "cluster": -1, "eng": -1, "acc": -3, "rate": -3, "objects": -5}},
	{what: BatteryVoltage, number: true, low: 4, high: 34,
		words: map[string]float64{"bat": 3, "batt": 3, "battery": 3, "batterie": 3, "supply": 1.5, "klemme": 1.5, "volt": 2, "voltage": 2, "spannung": 2, "u": 1, "ub": 2, "hv": -6, "cell": -6, "pack": -5, "sensor": -2, "ref": -3, "target": -4, "soll": -4, "setpoint": -4, "req": -4, "cmd": -4, "gen": -1, "alternator": -1, "feed": -1, "module": -1, "backup": -2}},
	{what: ModuleSupply, number: true, low: 4, high: 34,
		words: map[string]float64{"supply": 3, "klemme": 2, "ub": 3, "ecu": 1.5, "module": 2, "backup": 3, "backed": 3, "volt": 1, "voltage": 1, "spannung": 1, "u": 1, "bat": -2, "batt": -2, "battery": -2, "batterie": -2, "hv": -6, "sensor": -4, "ref": -3, "target": -4, "soll": -4, "setpoint": -4, "req": -4, "gen": -4, "alternator": -4}},
	{what: BatteryCurrent, number: true, low: -1500, high: 1500,
		words: map[string]float64{"bat": 3, "batt": 3, "battery": 3, "batterie": 3, "supply": 1.5, "current": 2, "curr": 2, "strom": 2, "amp": 2, "i": 1, "hv": -6, "gen": -3, "alternator": -3, "max": -4, "req": -4, "limit": -4}},
	{what: BatteryCharge, number: true, low: 0, high: 100.5,
		words: map[string]float64{"soc": 4, "charge": 3, "bat": 1.5, "batt": 1.5, "battery": 1.5, "batterie": 1.5, "hv": -6, "level": 1, "fuel": -6, "throttle": -6, "pedal": -6}},
	{what: HoldPressure, number: true, low: 0, high: 9000,
		words: map[string]float64{"line": 3, "hold": 3, "halte": 3, "pressure": 1.5, "press": 1.5, "druck": 1.5, "clutch": 2, "kupplung": 2, "trans": 1.5, "trn": 1.5, "getriebe": 1.5, "oil": -3, "oel": -3, "eng": -3, "engine": -3, "eop": -4, "brake": -4, "brk": -4, "brems": -4, "map": -4, "fuel": -4, "tyre": -5, "tire": -5, "manifold": -4, "boost": -4, "intake": -4, "air": -4, "rail": -4}},
	{what: FuelRate, number: true, low: 0, high: 200,
		words: map[string]float64{"fuel": 3, "burn": 3, "cons": 2, "consumption": 2, "verbrauch": 3, "rate": 1, "flow": 1}},
	{what: Acceleration, number: true, low: -20, high: 20,
		words: map[string]float64{"accel": 2, "acceleration": 2, "acc": 2, "beschl": 2, "long": 3, "longitudinal": 3, "laengs": 3, "ax": 4, "veh": 1, "vehicle": 1, "lat": -5, "lateral": -5, "quer": -5, "vert": -5, "vertical": -5, "ay": -5, "az": -5, "yaw": -5, "target": -4, "tgt": -4, "soll": -4, "wunsch": -4, "req": -4, "obj": -4, "pedal": -5}},
	{what: Coolant, number: true, low: -45, high: 150,
		words: map[string]float64{"coolant": 4, "clnt": 4, "cool": 2, "ect": 4, "clt": 4, "tmot": 4, "eng": 1.5, "engine": 1.5, "temp": 0.5, "water": 2, "wasser": 2, "kuehl": 3, "oil": -5, "oel": -5, "eot": -5, "ambient": -5, "amb": -5, "outside": -5, "aussen": -5, "air": -5, "luft": -5, "ansaug": -5, "intake": -5, "iat": -5, "trans": -4, "getriebe": -4, "fuel": -4, "bat": -5, "batt": -5, "battery": -5, "hv": -5, "cabin": -5, "innen": -5, "target": -4, "soll": -4}},
	{what: Steering, number: true, low: -1100, high: 1100,
		words: map[string]float64{"steering": 3, "steer": 3, "sas": 2, "swa": 3, "lenk": 2, "lenkrad": 3, "angle": 1.5, "winkel": 1.5, "wheel": 0.5, "rate": -5, "spd": -5, "speed": -5, "geschw": -5, "torque": -5, "trq": -5, "moment": -5, "target": -4, "soll": -4, "req": -4, "offset": -4, "rear": -4}},
	{what: StopCommand, longest: 8,
		words: map[string]float64{"stop": 2, "stopp": 2, "idle": 2, "isg": 3, "auto": 1.5, "order": 1.5, "cmd": 1, "command": 1, "request": 1, "req": 1, "anf": 1, "engine": 1, "eng": 1, "shutdown": 2, "lamp": -4, "lampe": -4, "light": -4, "cancel": -5, "switch": -4, "sw": -4, "taste": -4, "inhibit": -5, "inhibited": -5, "inh": -5, "sperre": -5, "permit": -3, "enabled": -3, "freigabe": -3, "brake": -5, "off": -1, "fault": -5}},
	{what: StarterCommand, longest: 8,
		words: map[string]float64{"starter": 4, "strt": 4, "anlasser": 4, "fb": -3, "feedback": -3, "rueck": -3, "ack": -3, "crank": 3, "cranking": 3, "start": 1, "relay": 0.5, "rly": 0.5, "status": -1, "st": -1, "cmd": 1, "command": 1, "anf": 1, "engage": 1, "motor": 0.5, "count": -5, "cnt": -5, "zaehler": -5, "total": -5, "operations": -5, "ops": -5, "stop": -3, "inhibit": -5, "fault": -5}},
	{what: Ignition, longest: 8,
		words: map[string]float64{"ignition": 4, "ign": 4, "zuend": 4, "key": 3, "terminal": 3, "kl": 2, "klemme": 2, "t15": 4, "15": 2, "on": 1, "angle": -6, "advance": -6, "timing": -6, "coil": -6, "klima": -5}},
	{what: StarterCount,
		words: map[string]float64{"start": 2, "starts": 3, "starter": 2, "strt": 2, "count": 3, "counter": 3, "cnt": 3, "zaehler": 3, "total": 2, "ops": 2, "operations": 2, "cmd": -3, "relay": -4, "alive": -5, "msg": -5, "rolling": -5}},
	{what: InhibitCode, longest: 8,
		words: map[string]float64{"inhibit": 2, "inh": 2, "sperr": 2, "stop": 1, "isg": 1, "reason": 2.5, "rsn": 2.5, "code": 1.5, "grund": 2.5, "cause": 2.5, "fault": -5, "error": -5, "reset": -5, "start": -1}},
	{what: Brake, longest: 8,
		words: map[string]float64{"brake": 3, "brk": 3, "bremse": 3, "brems": 3, "bremslicht": 4, "pressed": 2, "pedal": 2, "pdl": 2, "act": 1, "switch": 2, "sw": 1, "lamp": 1, "light": 1, "licht": 1, "stop": 0.5, "park": -5, "epb": -5, "hand": -5, "error": -5, "fault": -5, "fail": -5, "press": -1, "torque": -4, "req": -3, "temp": -4, "wear": -4, "fluid": -5, "override": -2, "invalid": -4, "valid": -4}},
	{what: TurnLamp, longest: 8,
		words: map[string]float64{"turn": 3, "indicator": 3, "blinker": 4, "blink": 3, "winker": 4, "lamp": 1, "light": 1, "left": 1, "right": 1, "sig": 0.5, "stat": 0.5, "lever": -1, "hebel": -1, "return": -4, "radius": -5, "rate": -4, "angle": -5}},
}

// vocabulary is every word that some role weighs.
var vocabulary = func() map[string]bool {
	all := map[string]bool{}
	for i := range roles {
		for w := range roles[i].words {
			all[w] = true
		}
	}
	return all
}()

// weighs sums up what the words of a signal's name and, less, of its message's say for a role.
func (r *role) weighs(name, message []string) float64 {
	sum := 0.0
	seen := map[string]bool{}
	for _, w := range name {
		if !seen[w] {
			seen[w] = true
			sum += r.words[w]
		}
	}
	clear(seen)
	for _, w := range message {
		if weight := r.words[w]; weight > 0 && !seen[w] {
			seen[w] = true
			sum += 0.3 * weight
		}
	}
	return sum
}

// umlauts as words of the vocabulary have them.
var umlauts = strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue", "ß", "ss")

// wordsOf splits a name at what is no letter and no digit, where its case changes, and
// where words of the vocabulary were written together.
func wordsOf(name string) []string {
	var list []string
	var word []rune
	flush := func() {
		if len(word) > 0 {
			list = append(list, apart(umlauts.Replace(strings.ToLower(string(word))))...)
			word = nil
		}
	}
	letters := []rune(name)
	for i, r := range letters {
		switch {
		case !unicode.IsLetter(r) && !unicode.IsDigit(r):
			flush()
			continue
		case unicode.IsDigit(r) && len(word) > 0 && !unicode.IsDigit(word[len(word)-1]) && !(len(word) == 1):
			flush()
		case unicode.IsUpper(r) && len(word) > 0 && (!unicode.IsUpper(word[len(word)-1]) || i+1 < len(letters) && unicode.IsLower(letters[i+1])):
			flush()
		case unicode.IsLetter(r) && len(word) > 0 && unicode.IsDigit(word[len(word)-1]):
			flush()
		}
		word = append(word, r)
	}
	flush()
	return list
}

// longestWord is how many letters of a word are taken apart; what is longer is no word.
const longestWord = 40

// apart splits a word into those of the vocabulary that it is made of: all of it, as in
// "vehspd", or at its beginning and end, as in "turbinendrehzahl". Words of two letters or
// one are none there: they are in everything.
func apart(word string) []string {
	if vocabulary[word] || len(word) < 5 || len(word) > longestWord {
		return []string{word}
	}
	if parts := made(word); parts != nil {
		return parts
	}
	for n := len(word) - 1; n >= 4; n-- {
		if head := word[:n]; vocabulary[head] {
			return append([]string{head}, ending(word[n:])...)
		}
	}
	return ending(word)
}

// made returns the fewest words of the vocabulary that make up a word, or nil.
func made(word string) []string {
	best := make([][]string, len(word)+1) // of each beginning
	best[0] = []string{}
	for end := 3; end <= len(word); end++ {
		for from := 0; from+3 <= end; from++ {
			if best[from] != nil && vocabulary[word[from:end]] && (best[end] == nil || len(best[from])+1 < len(best[end])) {
				best[end] = append(best[from][:len(best[from]):len(best[from])], word[from:end])
			}
		}
	}
	return best[len(word)]
}

// ending splits off the longest word of the vocabulary that a word ends with.
func ending(word string) []string {
	for n := 1; n+4 <= len(word); n++ {
		if tail := word[n:]; vocabulary[tail] {
			return []string{word[:n], tail}
		}
	}
	return []string{word}
}

// inUnit is how a unit that a database writes becomes the role's, and its name in a map.
// It is false if that is another kind of quantity. A number without a unit is taken to be
// in the role's.
func (r *role) inUnit(text string) (units.Conversion, string, bool) {
	want := r.what.Unit()
	name, known := units.Name(text)
	if text = strings.ToLower(strings.TrimSpace(text)); !known {
		switch text {
		case "":
			name = want
		case "deg", "°", "degree", "degrees", "grad": // of an angle, which maps do not convert, or of temperature
			if name = "deg"; want == "degC" {
				name = want
			}
		case "km/hour":
			name = "km/h"
		}
	}
	if name == want {
		return units.Conversion{}, name, true
	}
	c, err := units.Convert(name, want)
	return c, name, err == nil
}
