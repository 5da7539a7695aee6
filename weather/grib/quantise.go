package grib

import (
	"bytes"
	"errors"
	"fmt"
	"math"
)

// quantised is a field turned into integers by a scaling.
type quantised struct {
	scaling
	x []uint32
}

// quantise chooses the scaling for opt and applies it. Every value comes back
// within half a step, plus the rounding of float32.
func quantise(values []float32, opt EncodeOptions) (quantised, error) {
	return quantiseTo(values, opt, floor32)
}

// quantiseTo is quantise with a rounding for the reference value, which must
// not go up: edition 1 stores another kind of float.
func quantiseTo(values []float32, opt EncodeOptions, down func(float64) (float64, bool)) (quantised, error) {
	var q quantised
	if opt.Bits < 0 || opt.Bits > 24 || opt.Precision < 0 || math.IsNaN(opt.Precision) || math.IsInf(opt.Precision, 0) {
		return q, fmt.Errorf("precision %g, %d bits: want a positive precision or 1 to 24 bits", opt.Precision, opt.Bits)
	}
	if len(values) == 0 {
		return q, nil
	}
	lo, hi := values[0], values[0]
	for _, v := range values {
		lo, hi = min(lo, v), max(hi, v)
	}
	errRange := errors.New("values out of the range of the format")
	if opt.Precision > 0 {
		q.dec = -int(math.Floor(math.Log10(opt.Precision) + 1e-9))
		if q.dec > 30 || q.dec < -30 {
			return q, fmt.Errorf("precision %g", opt.Precision)
		}
	}
	scale := math.Pow(10, float64(q.dec))
	ref, ok := down(float64(lo) * scale)
	if !ok {
		return q, errRange
	}
	q.ref = ref
	span := float64(hi)*scale - ref
	switch {
	case opt.Precision > 0:
		// E = 0: whole steps of 10^−D.
		top := math.Round(span)
		if top >= 1<<31 {
			return q, fmt.Errorf("precision %g: a range of %g needs more than 31 bits", opt.Precision, hi-lo)
		}
		for q.bits = 0; math.Ldexp(1, q.bits) <= top; q.bits++ {
		}
	case span > 0:
		q.bits = opt.Bits
		if q.bits == 0 {
			q.bits = 16
		}
		// The smallest E for which the largest value still fits.
		top := math.Ldexp(1, q.bits) - 1
		_, e := math.Frexp(span / top)
		q.bin = e - 1
		for math.Round(math.Ldexp(span, -q.bin)) > top {
			q.bin++
		}
	}
	if q.bits == 0 {
		// All values are the same within half a step: see unpackSimple.
		q.bin, q.dec = 0, 0
		if q.ref, ok = down(float64(lo)); !ok {
			return q, errRange
		}
	}
	if err := q.check(); err != nil {
		return q, err
	}
	q.x = make([]uint32, len(values))
	if q.bits == 0 {
		return q, nil
	}
	inv := math.Ldexp(1, -q.bin)
	for i, v := range values {
		q.x[i] = uint32(math.Round(max(0, float64(v)*scale-ref) * inv))
	}
	return q, nil
}

// floor32 is the largest float32 that is ≤ v.
func floor32(v float64) (float64, bool) {
	f := float32(v)
	if float64(f) > v {
		f = math.Nextafter32(f, float32(math.Inf(-1)))
	}
	return float64(f), !math.IsInf(float64(f), 0)
}

// section5 writes what templates 5.0, 5.2, 5.3, 5.40, 5.41 and 5.42 share.
func (q quantised) section5(out *bytes.Buffer) {
	u32(out, int64(math.Float32bits(float32(q.ref))))
	s16(out, q.bin)
	s16(out, q.dec)
	u8(out, byte(q.bits), 0)
}
