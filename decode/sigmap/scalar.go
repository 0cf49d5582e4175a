package sigmap

import (
	"fmt"
	"math"
	"math/big"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// at records a mistake at a node.
func (c *collector) at(n *node, kind error, why, hint string) {
	c.add(kind, n.line, n.column, why, hint)
}

// Forms of numbers in the core schema of YAML 1.2 (chapter 10.3.2). Decimal whole numbers may
// begin with zeros; 0o marks octal and 0x hexadecimal numbers, which have no sign.
var (
	wholeForm   = regexp.MustCompile(`^[-+]?[0-9]+$`)
	octalForm   = regexp.MustCompile(`^0o[0-7]+$`)
	hexForm     = regexp.MustCompile(`^0x[0-9a-fA-F]+$`)
	decimalForm = regexp.MustCompile(`^[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?$`)
)

// number is a scalar read as a number.
type number struct {
	decimal string   // as written, but hexadecimal and octal converted to decimal
	whole   *big.Int // nil if it is not a whole number
	float   float64
}

// longestNumber is the length of the longest text that is passed to big.Int.
const longestNumber = 400

// asNumber returns a scalar as a number of the core schema. ok is false if it is not one.
func (n *node) asNumber() (v number, ok bool) {
	if n.shape != scalar || n.quoted || len(n.text) > longestNumber {
		return number{}, false
	}
	text, base := n.text, 10
	switch {
	case octalForm.MatchString(text):
		text, base = text[2:], 8
	case hexForm.MatchString(text):
		text, base = text[2:], 16
	case wholeForm.MatchString(text):
		text = strings.TrimPrefix(text, "+")
	case decimalForm.MatchString(text):
		f, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return number{}, false
		}
		v = number{decimal: text, float: f}
		if f == math.Trunc(f) && math.Abs(f) < 1<<53 { // 1e3 and 5.0 count as whole numbers, too
			v.whole = big.NewInt(int64(f))
		}
		return v, true
	default:
		return number{}, false
	}
	whole, _ := new(big.Int).SetString(text, base)
	f, _ := new(big.Float).SetInt(whole).Float64()
	return number{decimal: whole.String(), whole: whole, float: f}, !math.IsInf(f, 0)
}

// shown returns a scalar as it is quoted in errors.
func (n *node) shown() string {
	text := []rune(n.text)
	if len(text) > 40 {
		return strconv.Quote(string(text[:40]) + "...")
	}
	return strconv.Quote(n.text)
}

// isScalar reports whether a node is a scalar with a value. If not, it records a mistake,
// unless that was done before.
func (c *collector) isScalar(n *node, what, want string) bool {
	switch {
	case n.shape == broken:
		return false
	case n.shape != scalar:
		c.at(n, ErrType, fmt.Sprintf("%s must be %s, not %s", what, want, n.shape), "")
		return false
	case n.text == "" && !n.quoted:
		c.at(n, ErrType, fmt.Sprintf("%s has no value", what), "give "+want)
		return false
	}
	return true
}

// String names a shape other than scalar.
func (s shape) String() string {
	if s == list {
		return "a list"
	}
	return "a mapping"
}

// num reads a finite number.
func (c *collector) num(n *node, what string) (number, bool) {
	if !c.isScalar(n, what, "a number") {
		return number{}, false
	}
	v, ok := n.asNumber()
	if !ok {
		c.at(n, ErrType, fmt.Sprintf("%s must be a number, not %s", what, n.shown()), numberHint(n))
	}
	return v, ok
}

var (
	leadingNumber = regexp.MustCompile(`^[-+]?[0-9]+(\.[0-9]+)?`)
	bareHex       = regexp.MustCompile(`^[0-9][0-9a-fA-F]*$`)
)

// numberHint guesses what number a text that is not a number was meant to be.
func numberHint(n *node) string {
	tidy := strings.ReplaceAll(strings.ReplaceAll(n.text, "_", ""), ",", ".")
	_, isNumber := (&node{text: tidy}).asNumber()
	switch {
	case isNumber && n.quoted && tidy == n.text:
		return "leave out the quotes"
	case isNumber:
		return "write " + tidy
	case decimalForm.MatchString(n.text):
		return "the number is too large"
	case bareHex.MatchString(n.text):
		return "write 0x" + n.text + " if it is hexadecimal"
	}
	if d, err := time.ParseDuration(n.text); err == nil {
		return "write only the number, in seconds: " + strconv.FormatFloat(d.Seconds(), 'f', -1, 64)
	}
	if lead := leadingNumber.FindString(n.text); lead != "" {
		return "write only the number: " + lead
	}
	return ""
}

// within reads a number and checks it against a range.
func (c *collector) within(n *node, what string, low, high float64) (float64, bool) {
	v, ok := c.num(n, what)
	if ok && (v.float < low || v.float > high) {
		c.at(n, ErrRange, fmt.Sprintf("%s %s is out of range", what, n.text), fmt.Sprintf("it must be from %s to %s", plain(low), plain(high)))
		return 0, false
	}
	return v.float, ok
}

// wholeNumber reads a whole number and checks it against a range. format is used to show the
// ends of the range.
func (c *collector) wholeNumber(n *node, what string, low, high int64, format string) (int64, bool) {
	v, ok := c.num(n, what)
	if !ok {
		return 0, false
	}
	if v.whole == nil {
		c.at(n, ErrType, fmt.Sprintf("%s must be a whole number, not %s", what, n.text), "")
		return 0, false
	}
	if !v.whole.IsInt64() || v.whole.Int64() < low || v.whole.Int64() > high {
		c.at(n, ErrRange, fmt.Sprintf("%s %s is out of range", what, n.text), fmt.Sprintf("it must be from "+format+" to "+format, low, high))
		return 0, false
	}
	return v.whole.Int64(), true
}

// boolean reads true or false.
func (c *collector) boolean(n *node, what string) (value, ok bool) {
	if !c.isScalar(n, what, "true or false") {
		return false, false
	}
	if !n.quoted {
		switch n.text {
		case "true", "True", "TRUE":
			return true, true
		case "false", "False", "FALSE":
			return false, true
		}
	}
	hint := "write true or false"
	switch strings.ToLower(n.text) {
	case "yes", "on", "y", "1":
		hint = "write true"
	case "no", "off", "n", "0":
		hint = "write false"
	}
	c.at(n, ErrType, fmt.Sprintf("%s must be true or false, not %s", what, n.shown()), hint)
	return false, false
}

// str reads a text, which any scalar is. Control characters, which quoted escapes can
// produce, are refused, since texts are shown on terminals.
func (c *collector) str(n *node, what string) (string, bool) {
	if !c.isScalar(n, what, "text") {
		return "", false
	}
	for _, r := range n.text {
		if unicode.IsControl(r) && r != '\n' && r != '\t' {
			c.at(n, ErrType, fmt.Sprintf("%s contains the control character U+%04X", what, r), "leave it out")
			return "", false
		}
	}
	return n.text, true
}

// name reads a text that is one line and not empty.
func (c *collector) name(n *node, what string) (string, bool) {
	text, ok := c.str(n, what)
	if !ok {
		return "", false
	}
	if strings.TrimSpace(text) == "" || strings.ContainsAny(text, "\n\r\t") {
		c.at(n, ErrType, fmt.Sprintf("%s must be one line of text and not empty", what), "")
		return "", false
	}
	return strings.TrimSpace(text), true
}

var durationForm = regexp.MustCompile(`^([-+]?)([0-9]+(?:\.[0-9]*)?|\.[0-9]+) ?([a-zµμ]+)$`)

var durationUnits = map[string]time.Duration{
	"us": time.Microsecond, "µs": time.Microsecond, "μs": time.Microsecond,
	"ms": time.Millisecond, "s": time.Second, "m": time.Minute, "min": time.Minute, "h": time.Hour,
}

// maxDuration is far longer than anything that a drive needs.
const maxDuration = 24 * time.Hour

// duration reads a duration with its unit, which must be at least low.
func (c *collector) duration(n *node, what string, low time.Duration) (time.Duration, bool) {
	if !c.isScalar(n, what, "a duration such as 200ms or 1.5s") {
		return 0, false
	}
	if v, ok := n.asNumber(); ok {
		c.at(n, ErrDuration, fmt.Sprintf("%s needs a unit", what), spellings(v))
		return 0, false
	}
	parts := durationForm.FindStringSubmatch(n.text)
	if parts == nil || len(n.text) > 40 {
		c.at(n, ErrDuration, fmt.Sprintf("%s must be a duration, not %s", what, n.shown()), "write a number and its unit, such as 200ms, 1.5s or 2m")
		return 0, false
	}
	unit, known := durationUnits[parts[3]]
	if !known {
		c.at(n, ErrDuration, fmt.Sprintf("%s has the unit %q, which is not a unit of time", what, parts[3]), "write ms, s, m or h, such as "+parts[2]+"s")
		return 0, false
	}
	count, _ := new(big.Rat).SetString("0" + strings.TrimSuffix(parts[2], "."))
	count.Mul(count, new(big.Rat).SetInt64(int64(unit)))
	exact, _ := count.Float64()
	switch {
	case parts[1] == "-":
		c.at(n, ErrDuration, fmt.Sprintf("%s is negative", what), "write "+parts[2]+parts[3])
		return 0, false
	case exact > float64(maxDuration):
		c.at(n, ErrRange, fmt.Sprintf("%s is longer than a day", what), "")
		return 0, false
	}
	d := time.Duration(math.Round(exact))
	if d < low {
		c.at(n, ErrRange, fmt.Sprintf("%s %s is too short", what, n.text), fmt.Sprintf("it must be at least %s", low))
		return 0, false
	}
	return d, true
}

// spellings returns a hint with the two likeliest spellings of a duration that was written
// without a unit. The first is in milliseconds for whole numbers from ten on, and in seconds
// for smaller numbers and fractions.
func spellings(v number) string {
	value := math.Abs(v.float)
	if value >= 1e9 {
		return "write it with its unit, such as 200ms or 1.5s"
	}
	if value >= 10 && v.whole != nil {
		return fmt.Sprintf("write %sms or %ss", plain(value), plain(value/1000))
	}
	return fmt.Sprintf("write %ss or %sms", plain(value), plain(math.Round(value*1e9)/1e6))
}

// plain formats a number as people write it, without an exponent unless it would be too long.
func plain(v float64) string {
	if v != 0 && (math.Abs(v) >= 1e15 || math.Abs(v) < 1e-6) {
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}
