package plots

import (
	"image/color"
	"math"

	stdfont "golang.org/x/image/font"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
)

// The one place in which the look of every chart, the page and the card is
// decided: colours, type and line weights, in points (1/72 inch).

// tint is a colour of the look. Each has a value on white paper and one on a
// dark screen; charts are drawn with the first, and the page replaces it by a
// style-sheet variable so that both work.
type tint struct {
	name        string
	light, dark color.RGBA
}

func rgb(hex uint32) color.RGBA {
	return color.RGBA{R: uint8(hex >> 16), G: uint8(hex >> 8), B: uint8(hex), A: 0xff}
}

// The tints. Plan and gain are blue, baseline and loss are rust, wind is a deep
// green, the sea purple; no two differ in hue alone, and each also has its own
// line pattern (see strokes below). The distances under simulated colour
// blindness are tested.
var (
	tintInk    = tint{"ink", rgb(0x1b2430), rgb(0xe8edf3)}
	tintMuted  = tint{"muted", rgb(0x525f6f), rgb(0xa3b0bf)}
	tintGrid   = tint{"grid", rgb(0xdde2e8), rgb(0x36414d)}
	tintPaper  = tint{"paper", rgb(0xffffff), rgb(0x151b22)}
	tintPlan   = tint{"plan", rgb(0x0d57a6), rgb(0x74b4f5)}
	tintBase   = tint{"base", rgb(0xb0530b), rgb(0xf0a35c)}
	tintWind   = tint{"wind", rgb(0x12755a), rgb(0x2fa37f)}
	tintSea    = tint{"sea", rgb(0x9457b3), rgb(0xd9b8f0)}
	tintGain   = tint{"gain", rgb(0xcfe1f4), rgb(0x1d3b5a)}
	tintLoss   = tint{"loss", rgb(0xf6dcc2), rgb(0x573414)}
	tintBandA  = tint{"banda", rgb(0xeef3f9), rgb(0x1b2734)}
	tintBandB  = tint{"bandb", rgb(0xdfe9f4), rgb(0x203144)}
	tintBandC  = tint{"bandc", rgb(0xd2e0f1), rgb(0x253a53)}
	tintBandD  = tint{"bandd", rgb(0xc4d7ed), rgb(0x2a4462)}
	tintWater  = tint{"water", rgb(0xf4f8fb), rgb(0x18212b)}
	tintLand   = tint{"land", rgb(0xe3dccb), rgb(0x3b382f)}
	tintShore  = tint{"shore", rgb(0x8a7f66), rgb(0x857c66)}
	tintRest   = tint{"rest", rgb(0xe6e7ea), rgb(0x2b3038)}
	tintActive = tint{"active", rgb(0x8a0f50), rgb(0xffb8dc)}
)

// allTints lists every tint for the page's style sheet.
var allTints = []tint{
	tintInk, tintMuted, tintGrid, tintPaper, tintPlan, tintBase, tintWind, tintSea, tintGain,
	tintLoss, tintBandA, tintBandB, tintBandC, tintBandD, tintWater, tintLand, tintShore,
	tintRest, tintActive,
}

// RGBA makes a tint a color.Color: its value on paper.
func (t tint) RGBA() (r, g, b, a uint32) { return t.light.RGBA() }

// stroke is a line's look: colour, weight and pattern go together, so that no
// meaning rests on colour alone.
type stroke struct {
	col    color.Color
	width  float64
	dashes []float64
}

var (
	strokeAxis    = stroke{col: tintMuted, width: 0.7}
	strokeGrid    = stroke{col: tintGrid, width: 0.6}
	strokeZero    = stroke{col: tintInk, width: 1.1}
	strokePlan    = stroke{col: tintPlan, width: 1.8}
	strokeBase    = stroke{col: tintBase, width: 1.5, dashes: []float64{5, 3}}
	strokeWind    = stroke{col: tintWind, width: 1.5, dashes: []float64{8, 2, 2, 2}}
	strokeSea     = stroke{col: tintSea, width: 1.5, dashes: []float64{2, 2}}
	strokeThin    = stroke{col: tintInk, width: 0.8}
	strokeContour = stroke{col: tintInk, width: 0.6}
)

// seriesStrokes are the looks of lines without a fixed meaning, in order.
var seriesStrokes = []stroke{
	{col: tintPlan, width: 1.8},
	{col: tintBase, width: 1.6, dashes: []float64{5, 3}},
	{col: tintWind, width: 1.6, dashes: []float64{8, 2, 2, 2}},
	{col: tintSea, width: 1.6, dashes: []float64{2, 2}},
	{col: tintInk, width: 1.2, dashes: []float64{10, 3}},
	{col: tintMuted, width: 1.2, dashes: []float64{1, 2}},
	{col: tintActive, width: 1.4, dashes: []float64{6, 2, 1, 2, 1, 2}},
}

// Type sizes in points.
const (
	sizeTitle = 13.0
	sizeLabel = 10.5
	sizeTick  = sizeSmall
	sizeSmall = 9.8 // 10 px on a telephone
)

// typeface is the family bundled with the plotting library, so that every
// machine draws the same. It has the widths of Arial, which the page falls
// back to.
var fontCache = font.NewCache(liberation.Collection())

func fontOf(size float64, bold bool) font.Font {
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: font.Length(size)}
	if bold {
		f.Weight = stdfont.WeightBold
	}
	return f
}

// oklab converts lightness 0…1, chroma and hue in degrees to sRGB, with values
// out of gamut clipped.
//
// Source: B. Ottosson, "A perceptual color space for image processing", 2020
// (the published matrices; from memory, checked in the tests by round trip and
// by the white point).
func oklab(l, chroma, hueDeg float64) color.RGBA {
	sin, cos := math.Sincos(hueDeg * math.Pi / 180)
	a, b := chroma*cos, chroma*sin
	lr := cube(l + 0.3963377774*a + 0.2158037573*b)
	mr := cube(l - 0.1055613458*a - 0.0638541728*b)
	sr := cube(l - 0.0894841775*a - 1.2914855480*b)
	return color.RGBA{
		R: gamma8(4.0767416621*lr - 3.3077115913*mr + 0.2309699292*sr),
		G: gamma8(-1.2684380046*lr + 2.6097574011*mr - 0.3413193965*sr),
		B: gamma8(-0.0041960863*lr - 0.7034186147*mr + 1.7076147010*sr),
		A: 0xff,
	}
}

func cube(x float64) float64 { return x * x * x }

// gamma8 encodes a linear intensity by the sRGB curve (IEC 61966-2-1).
func gamma8(x float64) uint8 {
	if x <= 0.0031308 {
		x *= 12.92
	} else {
		x = 1.055*math.Pow(x, 1/2.4) - 0.055
	}
	return uint8(math.Round(255 * math.Max(0, math.Min(1, x))))
}

// magnitude is the scale for sizes, 0…1: lightness falls evenly from pale straw
// through green-blue to deep plum, so that it also reads in grey.
func magnitude(x float64) color.RGBA {
	x = math.Max(0, math.Min(1, x))
	l := 0.955 - 0.65*x
	chroma := 0.045 + 0.085*math.Sin(math.Pi*math.Min(1, 0.15+0.8*x))
	hue := 105 + 205*x
	return oklab(l, chroma, hue)
}

// signed is the scale for gains and losses, −1…1: rust for a loss, nearly white
// at zero, blue for a gain, both arms equally fast in lightness.
func signed(x float64) color.RGBA {
	x = math.Max(-1, math.Min(1, x))
	m := math.Abs(x)
	l := 0.975 - 0.52*m
	if x < 0 {
		return oklab(l, 0.13*m, 52)
	}
	return oklab(l, 0.13*m, 254)
}

// bandTint is the fill of a band in which the leeward foil is out at an
// extension, and false when it is in.
func bandTint(ext float64) (tint, bool) {
	switch {
	case ext <= 0.01:
		return tintPaper, false
	case ext < 0.4:
		return tintBandA, true
	case ext < 0.65:
		return tintBandB, true
	case ext < 0.9:
		return tintBandC, true
	}
	return tintBandD, true
}

// readableOn is ink or paper, whichever reads better on a fill.
func readableOn(c color.Color) color.Color {
	if luminance(c) > 0.3 {
		return rgb(0x10151b)
	}
	return rgb(0xfdfdfd)
}

// luminance is the relative luminance 0…1 of W3C, Web Content Accessibility
// Guidelines 2.1 (2018), definition "relative luminance".
func luminance(c color.Color) float64 {
	r, g, b, _ := c.RGBA()
	f := func(v uint32) float64 {
		x := float64(v) / 0xffff
		if x <= 0.03928 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	return 0.2126*f(r) + 0.7152*f(g) + 0.0722*f(b)
}
