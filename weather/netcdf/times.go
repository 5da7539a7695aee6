package netcdf

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// clock turns places on the time axes into instants.
type clock struct {
	valid       []time.Time // along axis validAt, or one instant
	validAt     int         // −1 when the time is a single one
	reference   []time.Time // along axis referenceAt, or one instant, or nil
	referenceAt int
	lead        []time.Duration // along axis leadAt; nil when valid is known
	leadAt      int
}

// times finds the instants of the variable's fields.
func (p *plan) times(c *contents) error {
	t := &p.time
	var err error
	switch {
	case t.validAt >= 0:
		t.valid, err = p.instants(c, p.axes[t.validAt].coord, p.axes[t.validAt].name)
	case t.leadAt < 0 && t.referenceAt < 0:
		v := c.scalar(p.v, kindTime)
		if v == nil {
			return &UnsupportedError{What: fmt.Sprintf("variable %s has no time coordinate with units such as \"hours since 2000-01-01\"", p.v.name)}
		}
		t.valid, err = p.instants(c, v, v.name)
	}
	if err != nil {
		return err
	}
	if t.referenceAt >= 0 {
		t.reference, err = p.instants(c, p.axes[t.referenceAt].coord, p.axes[t.referenceAt].name)
	} else if v := c.scalar(p.v, kindReference); v != nil {
		t.reference, err = p.instants(c, v, v.name)
	} else if t.leadAt >= 0 && t.valid == nil {
		// Some writers call the start of the run plainly "time".
		if v := c.scalar(p.v, kindTime); v != nil {
			t.reference, err = p.instants(c, v, v.name)
		}
	}
	if err != nil {
		return err
	}
	if t.leadAt >= 0 && t.valid == nil {
		if t.reference == nil {
			return &UnsupportedError{What: fmt.Sprintf("variable %s has lead times and no reference time", p.v.name)}
		}
		return p.leads(c, p.axes[t.leadAt])
	}
	return nil
}

// instants reads a time coordinate.
func (p *plan) instants(c *contents, v *variable, name string) ([]time.Time, error) {
	if v == nil {
		return nil, &UnsupportedError{What: fmt.Sprintf("dimension %s of %s has no time values", name, p.v.name)}
	}
	unit, err := parseTimeUnit(v.attrs.text("units"), v.attrs.text("calendar"))
	if err != nil {
		return nil, err
	}
	x, whole, err := c.values(v)
	if err != nil {
		return nil, err
	}
	if len(x) == 0 {
		return nil, &CorruptError{c.size, "file ends before the values of coordinate " + v.name}
	}
	p.shortTime = p.shortTime || !whole
	out := make([]time.Time, len(x))
	for i, s := range x {
		if out[i], err = unit.at(s); err != nil {
			var ue *UnsupportedError
			if errors.As(err, &ue) {
				return nil, err
			}
			return nil, &CorruptError{v.begin, fmt.Sprintf("coordinate %s: %v", v.name, err)}
		}
	}
	return out, nil
}

func (p *plan) leads(c *contents, a axis) error {
	if a.coord == nil {
		return &UnsupportedError{What: fmt.Sprintf("dimension %s of %s has no lead times", a.name, p.v.name)}
	}
	seconds, ok := durationSeconds(a.coord.attrs.text("units"))
	if !ok {
		return &UnsupportedError{What: fmt.Sprintf("units %q of lead time %s are not understood", a.coord.attrs.text("units"), a.name)}
	}
	x, whole, err := c.values(a.coord)
	if err != nil {
		return err
	}
	p.shortTime = p.shortTime || !whole
	for _, v := range x {
		if !(math.Abs(v*seconds) < 1e9) {
			return &CorruptError{a.coord.begin, fmt.Sprintf("lead time %s is %g", a.name, v)}
		}
		p.time.lead = append(p.time.lead, time.Duration(math.Round(v*seconds*1000))*time.Millisecond)
	}
	return nil
}
