package netcdf

import (
	"math"
	"slices"
	"strings"
)

// unpacker turns stored numbers into SI values, NaN where they are missing.
type unpacker struct {
	lo, hi        float64   // valid stored values
	valueLo       float64   // valid unpacked values
	valueHi       float64   //
	missing       []float64 // stored values that mark a gap
	scale, offset float64
	m             *meaning // nil for coordinates
	plain         bool     // the SI value is the unpacked one
}

// defaultFill is what a writer leaves in values that it never set (NetCDF
// Classic Format Specification, "fill values"); bytes have none in practice.
var defaultFill = map[nctype]float64{
	typeShort: -32767, typeInt: -2147483647, typeUShort: 65535, typeUInt: 4294967295,
	typeFloat: float64(float32(9.9692099683868690e+36)), typeDouble: 9.9692099683868690e+36,
	typeInt64: -9223372036854775806, typeUInt64: 18446744073709551614,
}

// unsigned returns the type that the values of v have when an attribute says
// that they are unsigned (NetCDF user's guide, "_Unsigned").
func unsigned(v *variable) nctype {
	if strings.EqualFold(v.attrs.text("_Unsigned"), "true") {
		switch v.typ {
		case typeByte:
			return typeUByte
		case typeShort:
			return typeUShort
		case typeInt:
			return typeUInt
		}
	}
	return v.typ
}

func newUnpacker(v *variable, m *meaning) *unpacker {
	inf := math.Inf(1)
	u := &unpacker{lo: -inf, hi: inf, valueLo: -inf, valueHi: inf, scale: 1, m: m}
	typ := unsigned(v)
	stored := func(x float64) float64 {
		if typ == typeFloat {
			return float64(float32(x)) // the attribute may be a double
		}
		if typ != v.typ && x < 0 {
			x += math.Ldexp(1, int(8*v.typ.size()))
		}
		return x
	}
	if x, ok := v.attrs.number("scale_factor"); ok && x != 0 && !math.IsNaN(x) {
		u.scale = x
	}
	if x, ok := v.attrs.number("add_offset"); ok && !math.IsNaN(x) {
		u.offset = x
	}
	if fill, ok := v.attrs.number("_FillValue"); ok {
		u.missing = append(u.missing, stored(fill))
	} else if fill, ok := defaultFill[typ]; ok {
		u.missing = append(u.missing, fill)
	}
	for _, x := range v.attrs["missing_value"].nums {
		u.missing = append(u.missing, stored(x))
	}
	// A valid range of the type of the packed values is meant for them, a real
	// one beside packed integers for the unpacked values (CF 8.1).
	limit := func(name string, i int, packed, value *float64) {
		a, ok := v.attrs[name]
		if !ok || i >= len(a.nums) || math.IsNaN(a.nums[i]) {
			return
		}
		if a.typ.floating() && !v.typ.floating() {
			*value = a.nums[i]
		} else {
			*packed = stored(a.nums[i])
		}
	}
	limit("valid_min", 0, &u.lo, &u.valueLo)
	limit("valid_max", 0, &u.hi, &u.valueHi)
	limit("valid_range", 0, &u.lo, &u.valueLo)
	limit("valid_range", 1, &u.hi, &u.valueHi)
	u.plain = m == nil || m.scale == 1 && !m.reciprocal && !m.reverse && !m.turn
	return u
}

// apply unpacks x in place.
func (u *unpacker) apply(x []float64) {
	nan := math.NaN()
	// Two marks of a gap at most is the rule; NaN compares equal to nothing.
	mark := [2]float64{nan, nan}
	copy(mark[:], u.missing)
	var more []float64
	if len(u.missing) > len(mark) {
		more = u.missing[len(mark):]
	}
	lo, hi, valueLo, valueHi := u.lo, u.hi, max(u.valueLo, -math.MaxFloat32), min(u.valueHi, math.MaxFloat32)
	scale, offset := u.scale, u.offset
	for i, v := range x {
		y := v*scale + offset
		if !(v >= lo && v <= hi) || v == mark[0] || v == mark[1] || !(y >= valueLo && y <= valueHi) || more != nil && slices.Contains(more, v) {
			y = nan
		}
		x[i] = y
	}
	if u.plain {
		return
	}
	for i, y := range x {
		if y = u.m.si(y); math.Abs(y) > math.MaxFloat32 {
			y = nan
		}
		x[i] = y
	}
}
