package rulecard

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"foilledger/vpp"
	"foilledger/vpp/units"
)

// file is a card as it stands in a file.
type file struct {
	Card        string     `toml:"card"`
	TWSMarginKn float64    `toml:"tws_margin_kn"`
	TWAMargin   float64    `toml:"twa_margin_deg"`
	HsMarginM   float64    `toml:"hs_margin_m"`
	HoldMin     float64    `toml:"hold_min"`
	LimitKn     float64    `toml:"limit_margin_kn"`
	LimitHsM    float64    `toml:"limit_margin_hs_m"`
	Rules       []fileRule `toml:"rule"`
}

type fileRule struct {
	TWSKn     []float64 `toml:"tws_kn"`
	TWADeg    []float64 `toml:"twa_deg"`
	HsM       []float64 `toml:"hs_m"`
	Extension float64   `toml:"extension"`
	RakeDeg   float64   `toml:"rake_deg"`
	FarDeg    *float64  `toml:"rake_far_deg"`
	RakeBy    string    `toml:"rake_by"`
	Windward  string    `toml:"windward"`
}

// WriteTOML writes a card as a file that [ReadTOML] reads.
func (c *Card) WriteTOML(w io.Writer, name string) error {
	var b strings.Builder
	n := func(x float64) string {
		if math.IsInf(x, 1) {
			return "inf"
		}
		return strconv.FormatFloat(math.Round(x*1e6)/1e6, 'g', -1, 64)
	}
	fmt.Fprintf(&b, "# A rule card. The box that holds the wind, its angle and the sea says how the\n# foils are set; boxes include their lower and exclude their upper ends.\n\n")
	fmt.Fprintf(&b, "card = %s\n", strconv.Quote(name))
	fmt.Fprintf(&b, "tws_margin_kn = %s # a setting is kept so far beyond its boxes\ntwa_margin_deg = %s\nhs_margin_m = %s\n",
		n(units.Knots(c.TWSMarginMS)), n(units.Deg(c.TWAMarginRad)), n(c.HsMarginM))
	fmt.Fprintf(&b, "hold_min = %s # least time between two changes\n", n(c.HoldS/60))
	fmt.Fprintf(&b, "limit_margin_kn = %s # foils are in so far below the boat's limits\nlimit_margin_hs_m = %s\n", n(units.Knots(c.LimitMarginMS)), n(c.LimitMarginHsM))
	for i := range c.Rules {
		r := &c.Rules[i]
		s := c.Settings[r.Setting]
		fmt.Fprintf(&b, "\n[[rule]]\ntws_kn = [%s, %s]\n", n(units.Knots(r.TWSMS.From)), n(units.Knots(r.TWSMS.To)))
		to := units.Deg(r.TWARad.To)
		if math.IsInf(to, 1) {
			to = 180
		}
		fmt.Fprintf(&b, "twa_deg = [%s, %s]\n", n(units.Deg(r.TWARad.From)), n(to))
		if r.HsM.From != 0 || !math.IsInf(r.HsM.To, 1) {
			fmt.Fprintf(&b, "hs_m = [%s, %s]\n", n(r.HsM.From), n(r.HsM.To))
		}
		fmt.Fprintf(&b, "extension = %s\n", n(s.Extension))
		windward := "in"
		switch {
		case r.Both && s.Extension > 0:
			windward = "same"
		case r.Both:
			windward = "keep"
		}
		if s.Extension > 0 {
			fmt.Fprintf(&b, "rake_deg = %s\n", n(units.Deg(s.RakeRad)))
		}
		if r.Far != r.Setting {
			fmt.Fprintf(&b, "rake_far_deg = %s # at the box's upper end; in equal steps between\nrake_by = %q\n", n(units.Deg(c.Settings[r.Far].RakeRad)), r.By())
		}
		fmt.Fprintf(&b, "windward = %q\n", windward)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// FileError says what is wrong in the file of a card.
type FileError struct {
	File string
	Line int // 0: not known
	Msg  string
}

func (e *FileError) Error() string {
	if e.Line > 0 {
		return fmt.Sprintf("%s:%d: %s", e.File, e.Line, e.Msg)
	}
	return e.File + ": " + e.Msg
}

// NameIn returns the name of the card in a file; ok is false when the file does
// not claim to be a card.
func NameIn(data []byte) (name string, ok bool) {
	var head struct {
		Card *string `toml:"card"`
	}
	if toml.Unmarshal(data, &head) != nil || head.Card == nil {
		return "", false
	}
	return *head.Card, true
}

// ReadTOML reads a card for a boat with the given settings, and its name. Every
// error is a *FileError.
func ReadTOML(data []byte, filename string, settings []vpp.FoilSetting) (*Card, string, error) {
	fail := func(line int, format string, a ...any) error {
		return &FileError{File: filename, Line: line, Msg: fmt.Sprintf(format, a...)}
	}
	var f file
	if err := toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields().Decode(&f); err != nil {
		var strict *toml.StrictMissingError
		var de *toml.DecodeError
		switch {
		case errors.As(err, &strict) && len(strict.Errors) > 0:
			line, _ := strict.Errors[0].Position()
			return nil, "", fail(line, "unknown key %s", strings.Join(strict.Errors[0].Key(), "."))
		case errors.As(err, &de):
			line, _ := de.Position()
			return nil, "", fail(line, "%s", strings.TrimPrefix(de.Error(), "toml: "))
		}
		return nil, "", fail(0, "%v", err)
	}
	if strings.TrimSpace(f.Card) == "" {
		return nil, "", fail(0, "card: the card's name is missing")
	}
	if len(f.Rules) == 0 {
		return nil, "", fail(0, "there must be at least one [[rule]]")
	}
	for _, v := range []struct {
		key   string
		x, hi float64
	}{{"tws_margin_kn", f.TWSMarginKn, 20}, {"twa_margin_deg", f.TWAMargin, 60}, {"hs_margin_m", f.HsMarginM, 5},
		{"hold_min", f.HoldMin, 1440}, {"limit_margin_kn", f.LimitKn, 20}, {"limit_margin_hs_m", f.LimitHsM, 5}} {
		if !(v.x >= 0 && v.x <= v.hi) {
			return nil, "", fail(0, "%s: %g: must be from 0 to %g", v.key, v.x, v.hi)
		}
	}
	c := &Card{Settings: settings, TWSMarginMS: units.MS(f.TWSMarginKn), TWAMarginRad: units.Rad(f.TWAMargin), HsMarginM: f.HsMarginM,
		HoldS: f.HoldMin * 60, LimitMarginMS: units.MS(f.LimitKn), LimitMarginHsM: f.LimitHsM}
	for i, r := range f.Rules {
		bad := func(format string, a ...any) error {
			return fail(0, "rule %d: %s", i+1, fmt.Sprintf(format, a...))
		}
		span := func(key string, l []float64, all Span, unit func(float64) float64) (Span, error) {
			if l == nil {
				return all, nil
			}
			if len(l) != 2 || !(l[0] >= 0) || !(l[1] > l[0]) {
				return all, bad("%s: want two rising numbers from 0 on, as [10, 14]", key)
			}
			return Span{unit(l[0]), unit(l[1])}, nil
		}
		all := Span{0, math.Inf(1)}
		var q Rule
		var err error
		if q.TWSMS, err = span("tws_kn", r.TWSKn, all, units.MS); err != nil {
			return nil, "", err
		}
		if q.TWARad, err = span("twa_deg", r.TWADeg, all, units.Rad); err != nil {
			return nil, "", err
		}
		if q.TWARad.To >= math.Pi-1e-9 { // 180° itself belongs to the last box
			q.TWARad.To = math.Inf(1)
		}
		if q.HsM, err = span("hs_m", r.HsM, all, func(x float64) float64 { return x }); err != nil {
			return nil, "", err
		}
		switch {
		case r.Windward == "" || r.Windward == "in":
		case r.Windward == "same" && r.Extension > 0, r.Windward == "keep" && r.Extension == 0:
			q.Both = true
		default:
			return nil, "", bad("windward: %q: must be in, or same for foils out, or keep for a leeward foil in", r.Windward)
		}
		setting := func(rakeDeg float64) (uint8, error) {
			for l, s := range settings {
				if math.Abs(s.Extension-r.Extension) < 0.006 && (r.Extension == 0 || math.Abs(units.Deg(s.RakeRad)-rakeDeg) < 1e-3) {
					return uint8(l), nil
				}
			}
			return 0, bad("the boat has no setting with extension %g and rake %g°", r.Extension, rakeDeg)
		}
		if q.Setting, err = setting(r.RakeDeg); err != nil {
			return nil, "", err
		}
		q.Far = q.Setting
		if r.FarDeg != nil {
			if q.Far, err = setting(*r.FarDeg); err != nil {
				return nil, "", err
			}
		}
		switch r.RakeBy {
		case "", "angle":
		case "wind":
			q.ByWind = q.Far != q.Setting
		default:
			return nil, "", bad("rake_by: %q: must be angle or wind", r.RakeBy)
		}
		q.taper(settings)
		c.Rules = append(c.Rules, q)
	}
	return c, f.Card, nil
}
