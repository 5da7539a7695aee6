package grib

import (
	"fmt"
	"time"
)

// unitSeconds gives the length of a unit of time: WMO code table 4.4, which
// edition 1 (table 4) shares but for the codes 13, 14 and 254. Months and years
// have no fixed length.
func unitSeconds(code byte, edition int) (int64, error) {
	switch code {
	case 0:
		return 60, nil
	case 1:
		return 3600, nil
	case 2:
		return 86400, nil
	case 10:
		return 3 * 3600, nil
	case 11:
		return 6 * 3600, nil
	case 12:
		return 12 * 3600, nil
	case 13:
		if edition == 2 {
			return 1, nil
		}
		return 15 * 60, nil
	case 14:
		if edition == 1 {
			return 30 * 60, nil
		}
	case 254:
		if edition == 1 {
			return 1, nil
		}
	}
	return 0, &UnsupportedError{What: "unit of time", Template: fmt.Sprintf("%d", code)}
}

// dateTime refuses dates that time.Date would silently carry over.
func dateTime(year, month, day, hour, minute, second int) (time.Time, error) {
	if year < 1 || year > 9999 || month < 1 || month > 12 || day < 1 || day > 31 || hour > 24 || minute > 59 || second > 60 {
		return time.Time{}, fmt.Errorf("date %04d-%02d-%02d %02d:%02d:%02d", year, month, day, hour, minute, second)
	}
	t := time.Date(year, time.Month(month), day, hour, minute, second, 0, time.UTC)
	if hour < 24 && second < 60 && t.Day() != day {
		return time.Time{}, fmt.Errorf("date %04d-%02d-%02d", year, month, day)
	}
	return t, nil
}

// after returns t plus n units, or an error when that leaves the years 1 to 9999.
func after(t time.Time, n, unit int64) (time.Time, error) {
	const most = 4000 * 366 * 86400
	if n > most/unit || n < -most/unit {
		return t, fmt.Errorf("step of %d x %d s", n, unit)
	}
	t = time.Unix(t.Unix()+n*unit, 0).UTC()
	if y := t.Year(); y < 1 || y > 9999 {
		return t, fmt.Errorf("valid in year %d", y)
	}
	return t, nil
}
