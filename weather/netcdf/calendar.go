package netcdf

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// timeUnit is "hours since 1900-01-01 00:00:00", parsed.
type timeUnit struct {
	seconds  float64 // one unit
	base     time.Time
	noleap   bool // the calendar has no 29 February
	calendar string
}

// unitSeconds are the time units of CF section 4.4 that have a fixed length,
// with the spellings that UDUNITS accepts.
var unitSeconds = map[string]float64{
	"microsecond": 1e-6, "microsec": 1e-6,
	"millisecond": 1e-3, "millisec": 1e-3, "msec": 1e-3, "ms": 1e-3,
	"second": 1, "sec": 1, "s": 1,
	"minute": 60, "min": 60,
	"hour": 3600, "hr": 3600, "h": 3600,
	"day": 86400, "d": 86400,
	"week": 604800,
}

// durationSeconds returns the length of a unit such as "hours", for lead times.
func durationSeconds(unit string) (float64, bool) {
	u := strings.ToLower(strings.TrimSpace(unit))
	if s, ok := unitSeconds[u]; ok {
		return s, true
	}
	s, ok := unitSeconds[strings.TrimSuffix(u, "s")]
	return s, ok
}

// parseTimeUnit reads the units and calendar attributes of a time coordinate.
// Calendars whose dates cannot be told in the civil calendar are refused.
func parseTimeUnit(units, calendar string) (timeUnit, error) {
	var u timeUnit
	fields := strings.Fields(units)
	if len(fields) < 3 || !strings.EqualFold(fields[1], "since") {
		return u, &UnsupportedError{What: fmt.Sprintf("time units %q are not of the form \"hours since 2000-01-01\"", units)}
	}
	seconds, ok := durationSeconds(fields[0])
	if !ok {
		return u, &UnsupportedError{What: fmt.Sprintf("time unit %q has no fixed length or is not known", fields[0])}
	}
	u.seconds = seconds
	year, month, day, clock, err := parseStamp(fields[2:])
	if err != nil {
		return u, &UnsupportedError{What: fmt.Sprintf("time units %q: %v", units, err)}
	}
	if month < 1 || month > 12 || day < 1 || day > 31 {
		return u, &UnsupportedError{What: fmt.Sprintf("time units %q: no such day", units)}
	}
	u.calendar = strings.ToLower(strings.TrimSpace(calendar))
	switch u.calendar {
	case "", "standard", "gregorian":
		// The mixed calendar: Julian dates before 15 October 1582 (CF 4.4.1).
		if year*10000+month*100+day < 15821015 {
			u.base = julianDate(year, month, day).Add(clock)
			return u, nil
		}
	case "proleptic_gregorian":
	case "noleap", "365_day":
		u.noleap = true
	default:
		return u, &UnsupportedError{What: fmt.Sprintf("calendar %q has dates that the civil calendar does not have", u.calendar)}
	}
	base := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
	if base.Day() != day {
		return u, &UnsupportedError{What: fmt.Sprintf("time units %q: no such day", units)}
	}
	u.base = base.Add(clock)
	return u, nil
}

// julianDate returns the instant at which a day of the Julian calendar begins.
func julianDate(year, month, day int) time.Time {
	// Days since 1 March of year 0 in years that begin in March, so that the
	// leap day comes last.
	y, m := year, month-3
	if m < 0 {
		y, m = y-1, m+12
	}
	floorDiv4 := y >> 2
	days := 365*y + floorDiv4 + (153*m+2)/5 + day - 1
	// 1 March 4 in the Julian calendar is 28 February 4 in the proleptic
	// Gregorian one: two days apart in the first century.
	origin := time.Date(4, time.February, 28, 0, 0, 0, 0, time.UTC)
	return origin.AddDate(0, 0, days-(365*4+1))
}

// parseStamp reads a date, a clock time and a zone, each but the date optional:
// "1900-01-01", "1-1-1 00:00:0.0", "2000-01-01T06:00:00Z", "2000-1-1 0:0 +2:00".
func parseStamp(fields []string) (year, month, day int, clock time.Duration, err error) {
	rest := strings.Join(fields, " ")
	date, rest, _ := cutAny(rest, "Tt ")
	neg := strings.HasPrefix(date, "-")
	parts := strings.Split(strings.TrimPrefix(date, "-"), "-")
	if len(parts) != 3 {
		return 0, 0, 0, 0, fmt.Errorf("date %q is not year-month-day", date)
	}
	var n [3]int
	for i, p := range parts {
		if n[i], err = strconv.Atoi(p); err != nil || n[i] < 0 || n[i] > 99999 {
			return 0, 0, 0, 0, fmt.Errorf("date %q is not year-month-day", date)
		}
	}
	if neg {
		n[0] = -n[0]
	}
	rest = strings.TrimSpace(rest)
	if rest == "" {
		return n[0], n[1], n[2], 0, nil
	}
	hms, zone := rest, ""
	if i := strings.IndexFunc(rest, func(r rune) bool { return !strings.ContainsRune("0123456789:.", r) }); i >= 0 {
		hms, zone = rest[:i], strings.TrimSpace(rest[i:])
	}
	clock, err = parseClock(hms)
	if err != nil {
		return 0, 0, 0, 0, err
	}
	shift, err := parseZone(zone)
	return n[0], n[1], n[2], clock - shift, err
}

func cutAny(s, chars string) (before, after string, found bool) {
	if i := strings.IndexAny(s, chars); i >= 0 {
		return s[:i], s[i+1:], true
	}
	return s, "", false
}

// parseClock reads h, h:m, h:m:s or h:m:s.fraction.
func parseClock(s string) (time.Duration, error) {
	if s == "" {
		return 0, nil
	}
	limits := [3]float64{24, 59, 60}
	units := [3]time.Duration{time.Hour, time.Minute, time.Second}
	parts := strings.Split(s, ":")
	if len(parts) > 3 {
		return 0, fmt.Errorf("clock time %q", s)
	}
	var d time.Duration
	for i, p := range parts {
		v, err := strconv.ParseFloat(p, 64)
		if err != nil || !(v >= 0 && v <= limits[i]) {
			return 0, fmt.Errorf("clock time %q", s)
		}
		d += time.Duration(math.Round(v * float64(units[i])))
	}
	return d, nil
}

// parseZone reads Z, UTC, GMT, +02:00, -0330, +2 or nothing.
func parseZone(s string) (time.Duration, error) {
	name := strings.ToUpper(s)
	for _, p := range []string{"UTC", "GMT", "Z"} {
		if name == p {
			return 0, nil
		}
		name = strings.TrimSpace(strings.TrimPrefix(name, p))
	}
	if name == "" {
		return 0, nil
	}
	sign := time.Duration(1)
	if name[0] == '-' {
		sign = -1
	} else if name[0] != '+' {
		return 0, fmt.Errorf("time zone %q is not known", s)
	}
	h, m, colon := strings.Cut(name[1:], ":")
	if !colon && len(h) > 2 {
		h, m = h[:len(h)-2], h[len(h)-2:]
	}
	hours, err := strconv.Atoi(h)
	minutes := 0
	if err == nil && m != "" {
		minutes, err = strconv.Atoi(m)
	}
	if err != nil || hours < 0 || hours > 15 || minutes < 0 || minutes > 59 {
		return 0, fmt.Errorf("time zone %q is not known", s)
	}
	return sign * (time.Duration(hours)*time.Hour + time.Duration(minutes)*time.Minute), nil
}

// at returns the instant of a coordinate value. Values are rounded to the
// millisecond, and to the second when within 50 ms of one, because fractional
// days do not hold whole seconds exactly.
func (u timeUnit) at(v float64) (time.Time, error) {
	s := v * u.seconds
	if !(math.Abs(s) < 1e12) {
		return time.Time{}, fmt.Errorf("time value %g is out of range", v)
	}
	whole := math.Round(s)
	ms := math.Round((s - whole) * 1000)
	if math.Abs(ms) <= 50 {
		ms = 0
	}
	t := time.Unix(u.base.Unix()+int64(whole), int64(u.base.Nanosecond())+int64(ms)*1e6).UTC()
	if u.noleap && leapDayBetween(u.base, t) {
		return time.Time{}, &UnsupportedError{What: fmt.Sprintf("calendar %q counts across a 29 February that it does not have", u.calendar)}
	}
	return t, nil
}

// leapDayBetween reports whether a 29 February lies in the interval of the two
// instants.
func leapDayBetween(a, b time.Time) bool {
	if b.Before(a) {
		a, b = b, a
	}
	if b.Year()-a.Year() > 8 {
		return true
	}
	for y := a.Year(); y <= b.Year(); y++ {
		leap := time.Date(y, time.February, 29, 0, 0, 0, 0, time.UTC)
		if leap.Day() == 29 && !leap.After(b) && leap.AddDate(0, 0, 1).After(a) {
			return true
		}
	}
	return false
}
