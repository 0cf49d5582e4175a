package candump

import "time"

// stampKind is the kind of a stamp as far as a single line can tell.
type stampKind uint8

const (
	stampNone     stampKind = iota
	stampSmall              // up to nine digits of seconds: zero-based or delta
	stampAbsolute           // ten digits and more: since the Unix epoch
	stampDate
	stampKinds
)

// stamp is the time stamp of one line.
type stamp struct {
	ns     int64
	kind   stampKind
	digits uint8 // of the fraction
}

// absoluteDigits is the number of digits to which candump pads absolute seconds. Even a
// clock that starts in 1970 writes ten digits, while a zero-based log has three.
const absoluteDigits = 10

// mostSeconds bounds the seconds of a stamp, so that the stamp with its fraction fits into
// an int64 of nanoseconds.
const mostSeconds = 1<<63/1_000_000_000 - 1

var fractionUnit = [10]int64{1e9, 1e8, 1e7, 1e6, 1e5, 1e4, 1e3, 1e2, 10, 1}

// parseStamp parses the stamp whose opening bracket is line[i]. at is the place after its
// closing bracket, or where parsing failed.
func parseStamp(line []byte, i int) (s stamp, at int, why reason) {
	i++
	start := i
	seconds := int64(0)
	for i < len(line) {
		c := line[i] - '0'
		if c > 9 {
			break
		}
		if seconds = seconds*10 + int64(c); seconds > mostSeconds {
			return s, start, stampTooLarge
		}
		i++
	}
	digits := i - start
	switch {
	case i < len(line) && line[i] == '-' && digits == 0:
		return s, i, stampNegative
	case i < len(line) && line[i] == '-' && digits == 4:
		return parseDate(line, start)
	case digits == 0:
		return s, i, stampNoNumber
	}
	s.kind = stampSmall
	if digits >= absoluteDigits {
		s.kind = stampAbsolute
	}
	return parseFraction(line, i, s, seconds)
}

// parseFraction parses the rest of a stamp, from the point to the closing bracket.
func parseFraction(line []byte, i int, s stamp, seconds int64) (stamp, int, reason) {
	if i == len(line) || line[i] != '.' {
		if i < len(line) && line[i] != ')' {
			return s, i, stampNoNumber
		}
		return s, i, stampNoFraction
	}
	i++
	start := i
	fraction := int64(0)
	for i < len(line) {
		c := line[i] - '0'
		if c > 9 {
			break
		}
		if i-start == 9 {
			return s, i, stampFraction
		}
		fraction = fraction*10 + int64(c)
		i++
	}
	if i == start {
		return s, i, stampNoFraction
	}
	s.digits = uint8(i - start)
	s.ns = seconds*1_000_000_000 + fraction*fractionUnit[s.digits]
	if i+1 >= len(line) || line[i] != ')' || !isBlank(line[i+1]) {
		if i+1 == len(line) && line[i] == ')' {
			i++
		}
		return s, i, stampUnclosed
	}
	return s, i + 1, accepted
}

// parseDate parses a stamp such as 2016-07-25 09:24:34.299654. It has no time zone and is
// taken as UTC.
func parseDate(line []byte, start int) (s stamp, at int, why reason) {
	const form = "0000-00-00 00:00:00"
	var fields [6]int
	field := 0
	for k := range len(form) {
		if start+k == len(line) {
			return s, start + k, stampDateWrong
		}
		c := line[start+k]
		if form[k] == '0' {
			if c < '0' || c > '9' {
				return s, start + k, stampDateWrong
			}
			fields[field] = fields[field]*10 + int(c-'0')
			continue
		}
		if c != form[k] {
			return s, start + k, stampDateWrong
		}
		field++
	}
	year, month, day, hour, minute, second := fields[0], time.Month(fields[1]), fields[2], fields[3], fields[4], fields[5]
	t := time.Date(year, month, day, hour, minute, second, 0, time.UTC)
	// time.Date turns the 30th of February into a day in March. candump does not print
	// such dates, nor an hour 24 or a second 60.
	if t.Month() != month || t.Day() != day || hour > 23 || minute > 59 || second > 59 || year < 1970 {
		return s, start, stampDateWrong
	}
	if t.Unix() > mostSeconds {
		return s, start, stampTooLarge
	}
	s.kind = stampDate
	return parseFraction(line, start+len(form), s, t.Unix())
}
