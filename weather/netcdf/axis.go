package netcdf

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"foilledger/weather/grid"
)

// kind says what a dimension counts.
type kind int

const (
	kindOther kind = iota
	kindLat
	kindLon
	kindTime      // valid time
	kindReference // start of the run
	kindLead      // time since the start of the run
	kindMember
	kindVersion // reanalysis stream: values of the streams complete each other
	kindDepth
	kindHeight
	kindPressure
	kindRefused // rotated or projected axes
)

var axisByStandardName = map[string]kind{
	"latitude": kindLat, "longitude": kindLon, "time": kindTime,
	"forecast_reference_time": kindReference, "forecast_period": kindLead,
	"realization": kindMember, "depth": kindDepth, "height": kindHeight,
	"air_pressure": kindPressure, "altitude": kindHeight,
	"grid_latitude": kindRefused, "grid_longitude": kindRefused,
	"projection_x_coordinate": kindRefused, "projection_y_coordinate": kindRefused,
}

var axisByName = map[string]kind{
	"lat": kindLat, "latitude": kindLat, "nav_lat": kindLat, "y": kindLat,
	"lon": kindLon, "long": kindLon, "longitude": kindLon, "nav_lon": kindLon, "x": kindLon,
	"time": kindTime, "valid_time": kindTime,
	"forecast_reference_time": kindReference, "reftime": kindReference,
	"step": kindLead, "forecast_period": kindLead, "leadtime": kindLead, "lead_time": kindLead,
	"number": kindMember, "member": kindMember, "realization": kindMember, "ensemble": kindMember, "ens": kindMember, "ensemble_member": kindMember,
	"expver": kindVersion,
	"depth":  kindDepth, "deptht": kindDepth, "depthu": kindDepth, "depthv": kindDepth,
	"height": kindHeight, "height_above_ground": kindHeight, "heightaboveground": kindHeight,
	"isobaric": kindPressure, "plev": kindPressure, "pressure_level": kindPressure, "isobaricinhpa": kindPressure,
}

// classify tells what a coordinate variable counts, by its standard name, then
// units, then axis attribute, then name (CF chapter 4). v is nil for a dimension
// without a coordinate variable.
func classify(name string, v *variable) kind {
	name = strings.ToLower(name)
	if v != nil {
		if k, ok := axisByStandardName[v.attrs.text("standard_name")]; ok {
			return k
		}
		units := v.attrs.text("units")
		switch u := strings.ToLower(strings.ReplaceAll(units, "_", "")); {
		case slices.Contains([]string{"degreesnorth", "degreenorth", "degreen", "degreesn"}, u):
			return kindLat
		case slices.Contains([]string{"degreeseast", "degreeeast", "degreee", "degreese"}, u):
			return kindLon
		case strings.Contains(u, " since "):
			if axisByName[name] == kindReference {
				return kindReference
			}
			return kindTime
		}
		switch v.attrs.text("axis") {
		case "T":
			return kindTime
		case "Z":
			if strings.EqualFold(v.attrs.text("positive"), "down") {
				return kindDepth
			}
		case "E":
			return kindMember
		}
		if k := axisByName[name]; (k == kindLat || k == kindLon) && (strings.EqualFold(units, "m") || strings.EqualFold(units, "km") || units == "metre") {
			return kindRefused
		}
	}
	if k, ok := axisByName[strings.TrimRight(name, "0123456789")]; ok && len(name) > 1 {
		return k
	}
	return axisByName[name]
}

// axis is a dimension of a variable with the coordinate that explains it.
type axis struct {
	kind   kind
	name   string
	n      int64 // length
	stride int64 // bytes from one entry to the next in the file
	coord  *variable
}

// axes explains each dimension of v.
func (c *contents) axes(v *variable) []axis {
	out := make([]axis, len(v.dims))
	stride := v.typ.size()
	for k := len(v.dims) - 1; k >= 0; k-- {
		d := c.dims[v.dims[k]]
		a := axis{name: d.name, n: d.n, stride: stride}
		if d.record {
			a.stride = c.recordSz
		}
		stride *= d.n
		a.coord, a.kind = c.coordinate(v, v.dims[k])
		out[k] = a
	}
	return out
}

// coordinate finds the variable that explains dimension id of v: the one of the
// same name, else one that v's coordinates attribute names, else any along it.
func (c *contents) coordinate(v *variable, id int) (*variable, kind) {
	name := c.dims[id].name
	along := func(w *variable) bool {
		return w != nil && w != v && len(w.dims) == 1 && w.dims[0] == id && w.typ != typeChar
	}
	own := c.byName[name]
	if !along(own) {
		own = nil
	}
	k := classify(name, own)
	if own != nil && k != kindOther && k != kindLead {
		return own, k
	}
	var candidates []*variable
	for _, n := range strings.Fields(v.attrs.text("coordinates")) {
		candidates = append(candidates, c.byName[n])
	}
	candidates = append(candidates, c.vars...)
	for _, w := range candidates {
		if !along(w) {
			continue
		}
		// A valid time along the lead-time dimension is worth more than the
		// lead time itself.
		if got := classify(w.name, w); k == kindLead && got == kindTime || k != kindLead && got != kindOther {
			return w, got
		}
	}
	return own, k
}

// scalar finds a coordinate of one value and the given kind that belongs to v.
func (c *contents) scalar(v *variable, want kind) *variable {
	named := strings.Fields(v.attrs.text("coordinates"))
	var found *variable
	for _, w := range c.vars {
		if w == v || w.typ == typeChar || classify(w.name, w) != want {
			continue
		}
		one := true
		for _, id := range w.dims {
			one = one && c.dims[id].n == 1
		}
		if !one {
			continue
		}
		if slices.Contains(named, w.name) {
			return w
		}
		if found == nil {
			found = w
		}
	}
	return found
}

// values reads a coordinate of at most one dimension, unpacked. complete is
// false when the file ends before its last value.
func (c *contents) values(v *variable) (x []float64, complete bool, err error) {
	n, step, sz := int64(1), v.typ.size(), v.typ.size()
	if len(v.dims) > 0 {
		for _, id := range v.dims {
			n *= c.dims[id].n
		}
	}
	if v.record {
		step = c.recordSz
	}
	complete = true
	if have := c.fits(v.begin, sz, step); n > have {
		n, complete = have, false
	}
	x = make([]float64, n)
	if step == sz {
		b := make([]byte, n*sz)
		if err := c.readAt(b, v.begin); err != nil {
			return nil, false, err
		}
		for i := range x {
			x[i] = v.typ.number(b[int64(i)*sz:])
		}
	} else {
		b := make([]byte, sz)
		for i := range x {
			if err := c.readAt(b, v.begin+int64(i)*step); err != nil {
				return nil, false, err
			}
			x[i] = v.typ.number(b)
		}
	}
	newUnpacker(v, nil).apply(x)
	return x, complete, nil
}

// fits returns how many items of sz bytes, step bytes apart from begin on, lie
// within the file.
func (c *contents) fits(begin, sz, step int64) int64 {
	if begin > c.size-sz {
		return 0
	}
	return (c.size-sz-begin)/max(step, 1) + 1
}

func (c *contents) readAt(b []byte, at int64) error {
	if len(b) == 0 {
		return nil
	}
	n, err := c.r.ReadAt(b, at)
	if n == len(b) {
		return nil
	}
	if err == nil || err == io.EOF {
		err = &CorruptError{at + int64(n), "file ends early"}
	}
	return err
}

// spacing tells the first value and the step of a coordinate. Coordinates are
// often rounded to a few digits, so a deviation of up to 2 % of a step passes in
// silence and up to 10 % with a warning.
func spacing(name string, x []float64) (first, step float64, warning string, err error) {
	if len(x) == 0 {
		return 0, 0, "", &UnsupportedError{What: "coordinate " + name + " is empty"}
	}
	for _, v := range x {
		if !(math.Abs(v) <= 1000) {
			return 0, 0, "", &UnsupportedError{What: fmt.Sprintf("coordinate %s holds %g", name, v)}
		}
	}
	if len(x) == 1 {
		return x[0], 0, "", nil
	}
	step = (x[len(x)-1] - x[0]) / float64(len(x)-1)
	worst := 0.0
	for i, v := range x {
		worst = max(worst, math.Abs(v-x[0]-float64(i)*step))
	}
	if step == 0 || worst > 0.1*math.Abs(step) {
		return 0, 0, "", &UnsupportedError{
			What: fmt.Sprintf("coordinate %s is not equally spaced", name),
			Hint: "regrid the file to equal steps of latitude and longitude",
		}
	}
	if worst > 0.02*math.Abs(step) {
		warning = fmt.Sprintf("coordinate %s is equally spaced only to %.0f %% of a step", name, 100*worst/math.Abs(step))
	}
	return x[0], step, warning, nil
}

// layout is where the values of a field stand in the file's order of rows and
// columns.
type layout struct {
	shape              grid.Shape
	southward          bool // file rows run from north to south
	westward           bool // file columns run from east to west
	warnings           []string
	fileRows, fileCols int
}

func newLayout(latName string, lat []float64, lonName string, lon []float64) (layout, error) {
	l := layout{fileRows: len(lat), fileCols: len(lon)}
	south, dLat, warning, err := spacing(latName, lat)
	if err != nil {
		return l, err
	}
	if warning != "" {
		l.warnings = append(l.warnings, warning)
	}
	if dLat < 0 {
		l.southward = true
		south, dLat = south+dLat*float64(len(lat)-1), -dLat
	}
	if south < -90.001 || south+dLat*float64(len(lat)-1) > 90.001 {
		return l, &UnsupportedError{What: fmt.Sprintf("coordinate %s goes beyond the poles", latName)}
	}
	// Across the date line the values may jump by 360°.
	unwrapped := slices.Clone(lon)
	if len(lon) > 1 && !(math.Abs(lon[0]) > 1000) {
		direction := 1.0
		if down := lon[1] - lon[0]; down < 0 && down >= -180 || down > 180 {
			direction = -1
		}
		for i := 1; i < len(unwrapped); i++ {
			d := unwrapped[i] - unwrapped[i-1]
			for turns := 0; turns < 4 && d*direction < 0; turns++ {
				unwrapped[i] += 360 * direction
				d = unwrapped[i] - unwrapped[i-1]
			}
		}
		if math.Abs(unwrapped[len(unwrapped)-1]-unwrapped[0]) > 720 {
			unwrapped = lon
		}
	}
	west, dLon, warning, err := spacing(lonName, unwrapped)
	if err != nil {
		return l, err
	}
	if warning != "" {
		l.warnings = append(l.warnings, warning)
	}
	if dLon < 0 {
		l.westward = true
		west, dLon = west+dLon*float64(len(lon)-1), -dLon
	}
	cols := len(lon)
	for cols > 1 && float64(cols)*dLon > 360+0.01*dLon {
		cols-- // a closing column that repeats the first
	}
	if len(lon)-cols > 1 {
		return l, &UnsupportedError{What: fmt.Sprintf("coordinate %s goes round the Earth more than once", lonName)}
	}
	west -= 360 * math.Floor((west+180)/360)
	l.shape = grid.Shape{South: south, West: west, DLat: dLat, DLon: dLon, NLat: len(lat), NLon: cols}
	return l, nil
}

// column returns a field's column for one of the file. The result is beyond the
// shape for a closing column, which is the easternmost one.
func (l *layout) column(fileCol int) int {
	if l.westward {
		return l.fileCols - 1 - fileCol
	}
	return fileCol
}

func (l *layout) row(fileRow int) int {
	if l.southward {
		return l.fileRows - 1 - fileRow
	}
	return fileRow
}
