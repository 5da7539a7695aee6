package netcdf

import (
	"fmt"
	"math"
	"strings"

	"foilledger/weather/grid"
)

// meaning is what a variable holds and how its numbers become SI.
type meaning struct {
	quantity   grid.Quantity
	partition  int
	scale      float64 // SI = raw·scale, or scale/raw
	reciprocal bool    // a frequency where the period is wanted
	reverse    bool    // a direction towards where the one from is wanted
	turn       bool    // the values are directions, kept in [0, 360)
	rank       int     // among variables of the same quantity the lowest is taken
	warnings   []string
}

// named is a row of the tables below.
type named struct {
	q         grid.Quantity
	partition int
	flag      string // "", "to" for directions towards, "frequency"
	order     int    // place in its list of usual names, the best first
}

// standardNames are the CF standard names (CF Standard Name Table 86, 2024) of
// what the project uses.
var standardNames = map[string]named{
	"eastward_wind":                  {q: grid.WindU},
	"northward_wind":                 {q: grid.WindV},
	"x_wind":                         {q: grid.WindU},
	"y_wind":                         {q: grid.WindV},
	"wind_speed":                     {q: grid.WindSpeed},
	"wind_from_direction":            {q: grid.WindFrom},
	"wind_to_direction":              {q: grid.WindFrom, flag: "to"},
	"wind_speed_of_gust":             {q: grid.Gust},
	"air_pressure_at_mean_sea_level": {q: grid.SeaLevelPressure},
	"air_pressure_at_sea_level":      {q: grid.SeaLevelPressure},

	"sea_surface_wave_significant_height":                                                  {q: grid.WaveHeight},
	"significant_height_of_wind_and_swell_waves":                                           {q: grid.WaveHeight},
	"sea_surface_wave_period_at_variance_spectral_density_maximum":                         {q: grid.WavePeakPeriod},
	"sea_surface_wave_mean_period":                                                         {q: grid.WaveMeanPeriod},
	"sea_surface_wave_zero_upcrossing_period":                                              {q: grid.WaveMeanPeriod},
	"sea_surface_wave_mean_period_from_variance_spectral_density_inverse_frequency_moment": {q: grid.WaveMeanPeriod},
	"sea_surface_wave_mean_period_from_variance_spectral_density_first_frequency_moment":   {q: grid.WaveMeanPeriod},
	"sea_surface_wave_mean_period_from_variance_spectral_density_second_frequency_moment":  {q: grid.WaveMeanPeriod},
	"sea_surface_wave_from_direction":                                                      {q: grid.WaveFrom},
	"sea_surface_wave_to_direction":                                                        {q: grid.WaveFrom, flag: "to"},
	"sea_surface_wave_from_direction_at_variance_spectral_density_maximum":                 {q: grid.WaveFrom},
	"sea_surface_wave_peak_frequency":                                                      {q: grid.WavePeakPeriod, flag: "frequency"},

	"sea_surface_wind_wave_significant_height":                                                  {q: grid.WindSeaHeight},
	"significant_height_of_wind_waves":                                                          {q: grid.WindSeaHeight},
	"sea_surface_wind_wave_mean_period":                                                         {q: grid.WindSeaPeriod},
	"sea_surface_wind_wave_period":                                                              {q: grid.WindSeaPeriod},
	"sea_surface_wind_wave_period_at_variance_spectral_density_maximum":                         {q: grid.WindSeaPeriod},
	"sea_surface_wind_wave_mean_period_from_variance_spectral_density_inverse_frequency_moment": {q: grid.WindSeaPeriod},
	"sea_surface_wind_wave_mean_period_from_variance_spectral_density_first_frequency_moment":   {q: grid.WindSeaPeriod},
	"sea_surface_wind_wave_from_direction":                                                      {q: grid.WindSeaFrom},
	"sea_surface_wind_wave_to_direction":                                                        {q: grid.WindSeaFrom, flag: "to"},

	"sea_surface_swell_wave_significant_height": {q: grid.SwellHeight, partition: 1},
	"significant_height_of_swell_waves":         {q: grid.SwellHeight, partition: 1},
	"sea_surface_swell_wave_mean_period":        {q: grid.SwellPeriod, partition: 1},
	"sea_surface_swell_wave_period":             {q: grid.SwellPeriod, partition: 1},
	"sea_surface_swell_wave_from_direction":     {q: grid.SwellFrom, partition: 1},
	"sea_surface_swell_wave_to_direction":       {q: grid.SwellFrom, partition: 1, flag: "to"},

	"sea_surface_primary_swell_wave_significant_height":   {q: grid.SwellHeight, partition: 1},
	"sea_surface_primary_swell_wave_mean_period":          {q: grid.SwellPeriod, partition: 1},
	"sea_surface_primary_swell_wave_from_direction":       {q: grid.SwellFrom, partition: 1},
	"sea_surface_secondary_swell_wave_significant_height": {q: grid.SwellHeight, partition: 2},
	"sea_surface_secondary_swell_wave_mean_period":        {q: grid.SwellPeriod, partition: 2},
	"sea_surface_secondary_swell_wave_from_direction":     {q: grid.SwellFrom, partition: 2},
	"sea_surface_tertiary_swell_wave_significant_height":  {q: grid.SwellHeight, partition: 3},
	"sea_surface_tertiary_swell_wave_mean_period":         {q: grid.SwellPeriod, partition: 3},
	"sea_surface_tertiary_swell_wave_from_direction":      {q: grid.SwellFrom, partition: 3},

	"eastward_sea_water_velocity":          {q: grid.CurrentU},
	"northward_sea_water_velocity":         {q: grid.CurrentV},
	"surface_eastward_sea_water_velocity":  {q: grid.CurrentU},
	"surface_northward_sea_water_velocity": {q: grid.CurrentV},
	"sea_water_x_velocity":                 {q: grid.CurrentU},
	"sea_water_y_velocity":                 {q: grid.CurrentV},
}

// usualNames are the variable names, in lower case, under which weather services
// and common converters write those quantities: common practice.
var usualNames = map[string]named{}

func init() {
	for list, n := range map[string]named{
		"u10 10u u10m u_10m ugrd10m ugrd_10maboveground u10n uwnd air_u u-component_of_wind_height_above_ground eastward_wind uas":  {q: grid.WindU},
		"v10 10v v10m v_10m vgrd10m vgrd_10maboveground v10n vwnd air_v v-component_of_wind_height_above_ground northward_wind vas": {q: grid.WindV},
		"si10 10si ws10 wind_speed windspeed wspd sfcwind":                                                                          {q: grid.WindSpeed},
		"wdir10 10wdir wind_from_direction wdir":                                                                                    {q: grid.WindFrom},
		"fg10 10fg i10fg fg310 10fg3 gust gustsfc gust_surface wind_speed_gust_surface wsgsmax":                                     {q: grid.Gust},
		"msl prmsl prmslmsl mslp mslet mslet_meansealevel pressure_reduced_to_msl_msl psl":                                          {q: grid.SeaLevelPressure},

		"swh hs vhm0 htsgw htsgwsfc thgt hm0": {q: grid.WaveHeight},
		"pp1d vtpk tp perpw perpwsfc tper":    {q: grid.WavePeakPeriod},
		"fp":                                  {q: grid.WavePeakPeriod, flag: "frequency"},
		"mwp vtm10 vtm01 vtm02 mp1 mp2 t0m1 t01 t02 mwsper": {q: grid.WaveMeanPeriod},
		"mwd vmdr vped dirpw dirpwsfc tdir":                 {q: grid.WaveFrom},

		"shww vhm0_ww wvhgt wvhgtsfc whgt phs0":      {q: grid.WindSeaHeight},
		"mpww vtm01_ww wvper wvpersfc wper ptp0":     {q: grid.WindSeaPeriod},
		"mdww vmdr_ww wvdir wvdirsfc wdir_sea pdir0": {q: grid.WindSeaFrom},

		"shts swell vhm0_sw1 swh1 phs1 swell_1":  {q: grid.SwellHeight, partition: 1},
		"mpts swper vtm01_sw1 mwp1 ptp1 swper_1": {q: grid.SwellPeriod, partition: 1},
		"mdts swdir vmdr_sw1 mwd1 pdir1 swdir_1": {q: grid.SwellFrom, partition: 1},
		"vhm0_sw2 swh2 phs2 swell_2":             {q: grid.SwellHeight, partition: 2},
		"vtm01_sw2 mwp2 ptp2 swper_2":            {q: grid.SwellPeriod, partition: 2},
		"vmdr_sw2 mwd2 pdir2 swdir_2":            {q: grid.SwellFrom, partition: 2},
		"swh3 phs3 swell_3":                      {q: grid.SwellHeight, partition: 3},
		"mwp3 ptp3 swper_3":                      {q: grid.SwellPeriod, partition: 3},
		"mwd3 pdir3 swdir_3":                     {q: grid.SwellFrom, partition: 3},

		"utotal water_u uo uos ucur u_current ucurrent ssu": {q: grid.CurrentU},
		"vtotal water_v vo vos vcur v_current vcurrent ssv": {q: grid.CurrentV},
	} {
		for i, name := range strings.Fields(list) {
			n.order = i
			usualNames[name] = n
		}
	}
}

// longNames decide a variable by words of its long_name when neither its
// standard name nor its own name does. All words of a row must occur.
var longNames = []struct {
	words string
	n     named
}{
	{"eastward_sea_water_velocity", named{q: grid.CurrentU}},
	{"northward_sea_water_velocity", named{q: grid.CurrentV}},
	{"10 metre u wind", named{q: grid.WindU}},
	{"10 metre v wind", named{q: grid.WindV}},
	{"10m u wind", named{q: grid.WindU}},
	{"10m v wind", named{q: grid.WindV}},
	{"10 m u-component wind", named{q: grid.WindU}},
	{"10 m v-component wind", named{q: grid.WindV}},
	{"significant height combined wind waves swell", named{q: grid.WaveHeight}},
	{"mean sea level pressure", named{q: grid.SeaLevelPressure}},
}

// interpret says what a variable holds. It returns nil without an error for
// variables that are not of interest, and an error for those that are and whose
// units are not understood.
func interpret(v *variable) (*meaning, error) {
	standard := strings.ToLower(v.attrs.text("standard_name"))
	standard, _, _ = strings.Cut(standard, " ") // a modifier may follow
	name := strings.ToLower(v.name)
	long := strings.ToLower(v.attrs.text("long_name"))
	n, ok := standardNames[standard]
	rank := 200
	warning := ""
	if usual, known := usualNames[name]; known {
		switch {
		case ok && usual.q == n.q:
			n.partition = max(n.partition, usual.partition)
			rank = usual.order
		case !ok:
			n, ok, rank = usual, true, 100+usual.order
			if strings.Contains(standard, "_") {
				warning = fmt.Sprintf("standard_name %q of %s is not one for %v; taken so because of its name", standard, v.name, n.q)
			}
		}
	}
	if !ok && (standard == "" || standard == "unknown") {
		for _, row := range longNames {
			if containsAll(long, row.words) {
				n, ok, rank = row.n, true, 300
				break
			}
		}
	}
	if !ok || elsewhere(name, long) {
		return nil, nil
	}
	m := &meaning{quantity: n.q, partition: n.partition, scale: 1, rank: rank, reverse: n.flag == "to"}
	m.turn = n.q.Unit() == "°"
	if warning != "" {
		m.warnings = append(m.warnings, warning)
	}
	return m, m.setUnits(v, n.flag == "frequency")
}

func containsAll(s, words string) bool {
	for _, w := range strings.Fields(words) {
		if !strings.Contains(s, w) {
			return false
		}
	}
	return s != ""
}

// elsewhere reports whether the names of a wind variable speak of a height
// other than 10 m, such as u100, or of a spread.
func elsewhere(name, long string) bool {
	for _, w := range []string{"100m", "100 m", "u100", "v100", "80m", "80 m", "50 m above", "200m", "ensemble spread", "standard deviation", "standard error"} {
		if strings.Contains(name, w) || strings.Contains(long, w) {
			return true
		}
	}
	return false
}

// unitScales turn the units that occur into SI, by the kind of quantity: speed,
// length, time, angle, pressure.
var unitScales = map[string]map[string]float64{
	"m/s": {
		"m/s": 1, "ms-1": 1, "ms^-1": 1, "ms**-1": 1, "m/sec": 1, "msec-1": 1, "meter/second": 1, "meters/second": 1, "metre/second": 1,
		"metres/second": 1, "metersecond-1": 1, "meterssecond-1": 1, "metresecond-1": 1, "metrespersecond": 1, "meterspersecond": 1, "meters/sec": 1,
		"kn": 1852. / 3600, "kt": 1852. / 3600, "kts": 1852. / 3600, "knot": 1852. / 3600, "knots": 1852. / 3600,
		"km/h": 1 / 3.6, "kmh-1": 1 / 3.6, "km/hr": 1 / 3.6, "cm/s": 0.01, "cms-1": 0.01,
	},
	"m":  {"m": 1, "meter": 1, "meters": 1, "metre": 1, "metres": 1, "cm": 0.01},
	"s":  {"s": 1, "sec": 1, "secs": 1, "second": 1, "seconds": 1},
	"°":  {"degree": 1, "degrees": 1, "deg": 1, "degreetrue": 1, "degreestrue": 1, "degree_true": 1, "degrees_true": 1, "°": 1, "degt": 1, "rad": 180 / math.Pi, "radian": 180 / math.Pi, "radians": 180 / math.Pi},
	"Pa": {"pa": 1, "pascal": 1, "pascals": 1, "hpa": 100, "hectopascal": 100, "hectopascals": 100, "mb": 100, "mbar": 100, "millibar": 100, "millibars": 100, "kpa": 1000},
	"Hz": {"hz": 1, "s-1": 1, "s**-1": 1, "s^-1": 1, "1/s": 1},
}

func (m *meaning) setUnits(v *variable, frequency bool) error {
	kind := m.quantity.Unit()
	written := v.attrs.text("units")
	key := strings.ToLower(strings.NewReplacer(" ", "", ".", "", "·", "").Replace(written))
	if frequency {
		if s, ok := unitScales["s"][key]; ok { // the name was reused for a period
			m.scale = s
			return nil
		}
		m.reciprocal, kind = true, "Hz"
	}
	if key == "" {
		m.warnings = append(m.warnings, fmt.Sprintf("%s has no units; taken as %s because of its name", v.name, kind))
		return nil
	}
	s, ok := unitScales[kind][key]
	if !ok {
		return &UnsupportedError{What: fmt.Sprintf("units %q of %s are not understood for %v", written, v.name, m.quantity)}
	}
	m.scale = s
	return nil
}

// si converts one unpacked value.
func (m *meaning) si(x float64) float64 {
	if m.reciprocal {
		if x <= 0 {
			return math.NaN()
		}
		return m.scale / x
	}
	x *= m.scale
	if m.reverse {
		x += 180
	}
	if m.turn && (x < 0 || x >= 360) {
		x -= 360 * math.Floor(x/360)
	}
	return x
}
