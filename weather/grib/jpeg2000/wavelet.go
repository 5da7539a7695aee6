package jpeg2000

// The reversible 5/3 synthesis (F.3): from the lowest resolution up, rows first,
// then columns.

func (t *tile) inverseWavelet() {
	width := t.x1 - t.x0
	if len(t.resolutions) > 1 {
		t.scratch = make([]int32, len(t.samples))
	}
	for r := 1; r < len(t.resolutions); r++ {
		res, lower := &t.resolutions[r], &t.resolutions[r-1]
		w, h := res.w(), res.h()
		if w == 0 || h == 0 {
			continue
		}
		for y := range h {
			synthesizeRow(t.scratch[y*width:][:w], t.samples[y*width:][:w], lower.w(), res.x0&1)
		}
		t.columns(w, h, lower.h(), res.y0&1)
	}
	t.scratch = nil
}

// synthesizeRow writes one row; in has the low-pass coefficients first. odd is 1
// when the row begins at an odd coordinate, that is, with a high-pass one.
func synthesizeRow(out, in []int32, lows, odd int) {
	low, high := in[:lows], in[lows:]
	n := len(in)
	if n == 1 {
		// A single sample (F.3.6): at an odd coordinate it was doubled.
		if odd == 1 {
			out[0] = high[0] >> 1
		} else {
			out[0] = low[0]
		}
		return
	}
	if odd == 0 {
		// Even samples first, each from its low and the highs on both sides
		// (equation F-5); beyond the ends the signal is mirrored.
		before := high[0]
		for k, l := range low {
			after := before
			if k < len(high) {
				after = high[k]
			}
			out[2*k] = l - (before+after+2)>>2
			before = after
		}
		for k, hi := range high {
			left, right := out[2*k], out[2*k]
			if 2*k+2 < n {
				right = out[2*k+2]
			}
			out[2*k+1] = hi + (left+right)>>1
		}
		return
	}
	for k, l := range low {
		before, after := high[k], high[k]
		if k+1 < len(high) {
			after = high[k+1]
		}
		out[2*k+1] = l - (before+after+2)>>2
	}
	for k, hi := range high {
		var left, right int32
		switch {
		case k == 0:
			left, right = out[1], out[1]
		case 2*k+1 < n:
			left, right = out[2*k-1], out[2*k+1]
		default:
			left, right = out[2*k-1], out[2*k-1]
		}
		out[2*k] = hi + (left+right)>>1
	}
}

// columns does for columns what synthesizeRow does for a row, a whole row of
// columns at a time, from scratch to samples.
func (t *tile) columns(w, h, lows, odd int) {
	width := t.x1 - t.x0
	in := func(k int) []int32 { return t.scratch[k*width:][:w] }
	out := func(y int) []int32 { return t.samples[y*width:][:w] }
	highs := h - lows
	if h == 1 {
		o, i := out(0), in(0)
		for x := range o {
			o[x] = i[x] >> odd
		}
		return
	}
	for k := range lows {
		y := 2*k + odd
		before, after := k-1+odd, k+odd // highs above and below
		if before < 0 {
			before = after
		}
		if after >= highs {
			after = before
		}
		o, l, a, b := out(y), in(k), in(lows+before), in(lows+after)
		l, a, b = l[:len(o)], a[:len(o)], b[:len(o)]
		for x := range o {
			o[x] = l[x] - (a[x]+b[x]+2)>>2
		}
	}
	for k := range highs {
		y := 2*k + 1 - odd
		above, below := y-1, y+1
		if above < 0 {
			above = below
		}
		if below >= h {
			below = above
		}
		o, hi, a, b := out(y), in(lows+k), out(above), out(below)
		hi, a, b = hi[:len(o)], a[:len(o)], b[:len(o)]
		for x := range o {
			o[x] = hi[x] + (a[x]+b[x])>>1
		}
	}
}

// levelShift undoes the DC level shift and keeps samples in their range (G.1).
func (t *tile) levelShift() {
	shift, lo, hi := int32(1)<<(t.bits-1), int32(0), int32(1)<<t.bits-1
	if t.signed {
		lo, hi, shift = -shift, shift-1, 0
	}
	for i, v := range t.samples {
		t.samples[i] = max(lo, min(hi, v+shift))
	}
}
