package plots

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// stamp prints a time as people read it, in UTC.
func stamp(t time.Time) string { return t.UTC().Format("Mon 2 Jan 2006 15:04") + " UTC" }

// shortStamp leaves the year out.
func shortStamp(t time.Time) string { return t.UTC().Format("2\u00a0Jan 15:04") }

// span prints minutes as hours and minutes: "5 h 12 min".
func span(minutes float64) string {
	m := int(math.Round(math.Abs(minutes)))
	switch {
	case m < 90:
		return fmt.Sprintf("%d min", m)
	case m < 72*60:
		return fmt.Sprintf("%d h %02d min", m/60, m%60)
	}
	return fmt.Sprintf("%d d %d h %02d min", m/1440, m/60%24, m%60)
}

// gain prints minutes with a sign.
func gain(minutes float64) string {
	if math.Round(minutes) == 0 {
		return "0 min"
	}
	if minutes < 0 {
		return "−" + span(minutes)
	}
	return "+" + span(minutes)
}

// signedNumber prints a value with a true sign and fixed decimals.
func signedNumber(v float64, dec int) string {
	s := fmt.Sprintf("%+.*f", dec, v)
	if strings.Trim(s, "+-0.") == "" {
		return s[1:]
	}
	return strings.Replace(s, "-", "−", 1)
}

// latitude and longitude print degrees and whole minutes with a letter.
func latitude(deg float64) string  { return degMin(deg, "N", "S", 2) }
func longitude(deg float64) string { return degMin(wrap180(deg), "E", "W", 3) }

func degMin(deg float64, pos, neg string, width int) string {
	h := pos
	if deg < 0 {
		h = neg
	}
	m := int(math.Round(math.Abs(deg) * 60))
	return fmt.Sprintf("%0*d°%02d′\u00a0%s", width, m/60, m%60, h)
}

func wrap180(deg float64) float64 {
	d := math.Mod(deg+180, 360)
	if d < 0 {
		d += 360
	}
	return d - 180
}

// graticuleLabel prints a whole or half degree.
func graticuleLabel(deg float64, pos, neg string) string {
	a := math.Abs(deg)
	h := pos
	if deg < 0 {
		h = neg
	}
	if a == 0 || a == 180 && pos == "E" {
		h = ""
	}
	str := fmt.Sprintf("%.0f°", math.Floor(a+1e-9))
	if f := a - math.Floor(a+1e-9); f > 1e-6 {
		str += fmt.Sprintf("%02.0f′", f*60)
	}
	if h != "" {
		str += " " + h
	}
	return str
}

// leeward returns the extension and rake of the foil that works.
func (p Step) leeward() (ext, rakeDeg float64) {
	if p.Board == "port" {
		return p.StbdExt, p.StbdRakeDeg
	}
	return p.PortExt, p.PortRakeDeg
}

// foilWords describes one foil: "in", "out, rake 3°", "out ½, rake 3°".
func foilWords(ext, rakeDeg float64) string {
	if ext <= 0.01 {
		return "in"
	}
	out := "out"
	if ext < 0.99 {
		out = fmt.Sprintf("out %.0f %%", ext*100)
	}
	return fmt.Sprintf("%s, rake %s°", out, strings.TrimSuffix(fmt.Sprintf("%.1f", rakeDeg), ".0"))
}

// plural chooses between one and many.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// stepAt interpolates the steps at a time: numbers in between, words from the step
// before. Outside it returns the end. Steps must not be empty.
func stepAt(steps []Step, t time.Time) Step {
	i := 0
	for i < len(steps) && !steps[i].Time.After(t) {
		i++
	}
	if i == 0 {
		return steps[0]
	}
	a := steps[i-1]
	if i == len(steps) {
		return a
	}
	b := steps[i]
	f := t.Sub(a.Time).Seconds() / b.Time.Sub(a.Time).Seconds()
	mix := func(x, y float64) float64 { return x + f*(y-x) }
	p := a
	p.Time = t
	p.LatDeg = mix(a.LatDeg, b.LatDeg)
	p.LonDeg = wrap180(a.LonDeg + f*wrap180(b.LonDeg-a.LonDeg))
	p.DistanceNM = mix(a.DistanceNM, b.DistanceNM)
	return p
}
