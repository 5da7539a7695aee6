package netcdf

import (
	"testing"
	"time"
)

func TestTimeUnits(t *testing.T) {
	for _, tc := range []struct {
		units, calendar string
		v               float64
		want            string // RFC 3339, or "" for a refusal
		source          string
	}{
		{"hours since 1900-01-01 00:00:00.0", "gregorian", 973008, "2011-01-01T00:00:00Z", "calendar arithmetic"},
		{"Hour since 2023-02-28 00:00:00", "proleptic_gregorian", 63, "2023-03-02T15:00:00Z", "calendar arithmetic"},
		{"days since 2000-12-31 00:00:00", "", 8702.125, "2024-10-28T03:00:00Z", "the file's own attribute minimum = 00z28oct2024 plus one step"},
		{"seconds since 1970-01-01", "proleptic_gregorian", 1293840000, "2011-01-01T00:00:00Z", "Unix time"},
		{"seconds since 1970-01-01T00:00:00Z", "standard", 0.5, "1970-01-01T00:00:00.5Z", "Unix time"},
		{"minutes since 2020-02-28 23:00", "standard", 90, "2020-02-29T00:30:00Z", "calendar arithmetic"},
		{"hours since 2020-01-01 02:00:00 +02:00", "standard", 1, "2020-01-01T01:00:00Z", "CF 4.4: zone is east of Greenwich"},
		{"hours since 2020-01-01 00:00:00 -6:00", "standard", 0, "2020-01-01T06:00:00Z", "UDUNITS manual's example of -6:00"},
		{"hours since 2020-01-01 00:00:00 UTC", "standard", 0, "2020-01-01T00:00:00Z", "CF 4.4"},
		{"hours since 2020-1-1 0:0:0 +0330", "standard", 4, "2020-01-01T00:30:00Z", "CF 4.4"},
		{"weeks since 2020-01-01", "standard", 1, "2020-01-08T00:00:00Z", "UDUNITS"},
		{"ms since 2020-01-01", "standard", 250, "2020-01-01T00:00:00.25Z", "UDUNITS"},
		{"days since 1582-10-15", "gregorian", 0, "1582-10-15T00:00:00Z", "first Gregorian day"},
		{"days since 1582-10-04", "gregorian", 1, "1582-10-15T00:00:00Z", "the reform: 4 October was followed by 15 October"},
		{"days since 0001-01-01", "standard", 0, "0000-12-30T00:00:00Z", "Julian 1 January 1 is day 1721423.5, proleptic Gregorian 1721425.5"},
		{"days since 0001-01-01", "proleptic_gregorian", 737790, "2021-01-01T00:00:00Z", "ordinal of 2021-01-01 is 737791"},
		{"days since 1-1-1 00:00:0.0", "standard", 737792, "2021-01-01T00:00:00Z", "as above, two days on"},
		{"days since -4712-01-01 12:00:00", "standard", 2451545, "2000-01-01T12:00:00Z", "Julian day number of J2000.0"},
		{"hours since 2021-03-01", "noleap", 24, "2021-03-02T00:00:00Z", "no leap day between"},
		{"days since 2019-01-01", "365_day", 424, "", "crosses 2020-02-29"},
		{"days since 2000-01-01", "360_day", 1, "", ""},
		{"days since 2000-01-01", "julian", 1, "", ""},
		{"days since 2000-01-01", "all_leap", 1, "", ""},
		{"months since 2000-01-01", "standard", 1, "", ""},
		{"years since 2000-01-01", "standard", 1, "", ""},
		{"hours after 2000-01-01", "standard", 1, "", ""},
		{"hours", "standard", 1, "", ""},
		{"hours since yesterday", "standard", 1, "", ""},
		{"hours since 2000-13-01", "standard", 1, "", ""},
		{"hours since 2001-02-29", "standard", 1, "", ""},
		{"hours since 2000-01-01 25:00", "standard", 1, "", ""},
		{"hours since 2000-01-01 00:00 EST", "standard", 1, "", ""},
		{"hours since 2000-01-01", "standard", 1e300, "", ""},
	} {
		u, err := parseTimeUnit(tc.units, tc.calendar)
		var got time.Time
		if err == nil {
			got, err = u.at(tc.v)
		}
		if tc.want == "" {
			if err == nil {
				t.Errorf("%q %q %v: got %v, want a refusal", tc.units, tc.calendar, tc.v, got)
			}
			continue
		}
		if err != nil || got.Format(time.RFC3339Nano) != tc.want {
			t.Errorf("%q %q %v: got %v, %v, want %s (%s)", tc.units, tc.calendar, tc.v, got.Format(time.RFC3339Nano), err, tc.want, tc.source)
		}
	}
}
