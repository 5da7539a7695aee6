package plots

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func sampleSpeedsReport() *SpeedsReport {
	r := &SpeedsReport{
		Title: "How fast is she: the invented sixty", Boat: "invented sixty, big foils", Version: "test",
		Headline: "Foils pay from about 10 kn of true wind, between 75° and 150°.",
		Shape: BoatShape{LengthM: 18.3, BeamM: 5.6, PlaningBeamM: 3.1, WaterlineBeamM: 3.8, FreeboardM: 1.5, DraftCanoeM: 0.55, DeadriseDeg: 9, KeelArmM: 4, KeelCantDeg: 38,
			BowFreeboardM: 1.8, BowForwardM: 9.8, BulbLengthM: 3, BulbDiameterM: 0.42, FinChordM: 0.6, MastHeightM: 27,
			FoilRootOutM: 2.5, FoilRootUpM: 0.2, FoilRootForwardM: 3, FoilSpanM: 4.4, FoilChordM: 0.7, FoilDihedralDeg: 24, CentreOfGravityFromTransomM: 7.8},
		TWSKn: sampleTWS, TWADeg: sampleTWA, HsM: []float64{0, 1.5, 3},
		Settings:    []FoilSetting{{0, 0}},
		Charts:      sampleSpeedCharts(),
		Tables:      []PageTable{{Caption: "Take-off", Head: []string{"<setting", "kn"}, Rows: [][]string{{"out 1.00, rake 3°", "14.2"}}, Note: "Invented."}},
		Assumptions: []string{"Steady wind and sea."}, Inputs: []Input{{"sixty.toml", strings.Repeat("5d41", 16)}},
	}
	for _, e := range []float64{0.5, 0.75, 1} {
		for k := 0.0; k <= 5; k++ {
			r.Settings = append(r.Settings, FoilSetting{e, k})
		}
	}
	for _, s := range r.Settings {
		for _, tws := range r.TWSKn {
			for _, twa := range r.TWADeg {
				for _, hs := range r.HsM {
					v := sampleSpeed(tws, twa, s.Extension, s.RakeDeg-0.4*hs)
					c := SpeedCell{OK: !(tws > 26 && twa > 100 && s.Extension > 0.6), BSPKn: v, HeelDeg: 6 + 0.8*math.Min(tws, 22) - 4*s.Extension, TrimDeg: 0.2 + s.Extension*s.RakeDeg*0.5, LeewayDeg: 2,
						RiseM: 0.02 * v * s.Extension, FoilLiftT: s.Extension * (2 + 1.1*s.RakeDeg) * math.Min(1, v*v/400), BowImmersionsPerHour: math.Max(0, 6*hs-2*s.RakeDeg*s.Extension)}
					c.HullLoad = 1 - c.FoilLiftT/9
					if !c.OK {
						c.RuledBy = "foil load"
					}
					r.Cells = append(r.Cells, c)
				}
			}
		}
	}
	return r
}

func sampleCard() *RuleCard {
	d := &RuleCard{Title: "When to foil", Boat: "invented sixty, big foils", Version: "test", RegretPercent: 1.3, FittedOn: "200 invented weathers", TestedOn: "100 others",
		TWSBandsKn:  []Band{{0, 10}, {10, 14}, {14, 18}, {18, 22}, {22, 26}, {26, 35}},
		TWABandsDeg: []Band{{0, 60}, {60, 80}, {80, 100}, {100, 120}, {120, 140}, {140, 180}},
		SlowFirst:   []string{"To put a foil out: below 10 kn.", "To take a foil in: below 10 kn.", "To add rake: below 20 kn, or the load is more than a person can push.", "Before a gybe set the other foil while it carries nothing: it costs almost no time."}}
	for _, w := range d.TWSBandsKn {
		var row []RuleCell
		for _, a := range d.TWABandsDeg {
			tws, twa := (w.From+w.To)/2, (a.From+a.To)/2
			c := RuleCell{CardAdvice: CardAdvice{Out: sampleSpeed(tws, twa, 1, 3) > sampleSpeed(tws, twa, 0, 0), Extension: 1, RakeDeg: math.Round(2+tws/10) - 0.5}, Refused: tws > 27 && twa > 90, BreakEvenMin: 400 / tws}
			if tws > 20 {
				c.Extension = 0.75
			}
			row = append(row, c)
		}
		d.Cells = append(d.Cells, row)
	}
	return d
}

func TestSpeedsPage(t *testing.T) {
	r := sampleSpeedsReport()
	var b bytes.Buffer
	if err := WriteSpeedsPage(&b, r); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(lookInto(t), "speeds.html"), b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	if b.Len() > MaxPageBytes || strings.Contains(b.String(), "ZgotmplZ") {
		t.Errorf("%d bytes", b.Len())
	}
	// the embedded table gives back what went in
	d := newSpeedsData(r)
	raw, err := base64.StdEncoding.DecodeString(d.Table["bsp"].Data)
	if err != nil || len(raw) != 2*len(r.Cells) {
		t.Fatalf("%d bytes, %v", len(raw), err)
	}
	for i, c := range r.Cells {
		got := float64(int16(binary.LittleEndian.Uint16(raw[2*i:]))) * d.Table["bsp"].Unit
		if !(math.Abs(got-c.BSPKn) <= 0.0051) {
			t.Fatalf("cell %d: %g kn, want %g", i, got, c.BSPKn)
		}
	}
	for _, c := range []struct {
		field string
		spoil func(*SpeedsReport)
	}{
		{"Cells[7].HeelDeg", func(r *SpeedsReport) { r.Cells[7].HeelDeg = math.NaN() }},
		{"Cells", func(r *SpeedsReport) { r.Cells = r.Cells[1:] }},
		{"Settings", func(r *SpeedsReport) { r.Settings[0].Extension = 1 }},
		{"HsM[1]", func(r *SpeedsReport) { r.HsM[1] = 0 }},
		{"Shape", func(r *SpeedsReport) { r.Shape.BeamM = 0 }},
	} {
		r := sampleSpeedsReport()
		c.spoil(r)
		var fe *FieldError
		if err := WriteSpeedsPage(&b, r); !errors.As(err, &fe) || fe.Field != c.field {
			t.Errorf("%s: error %v", c.field, err)
		}
	}
}

func TestCard(t *testing.T) {
	dir := lookInto(t)
	for _, p := range []Paper{A5, A4} {
		c, err := CardChart(sampleCard(), p)
		if err != nil {
			t.Fatal(err)
		}
		texts, w, h := record(t, c, Wide)
		for i, a := range texts {
			if !a.b.inside(box{0, 0, w, h}) {
				t.Errorf("%q leaves the card: %+v", a.text, a.b)
			}
			for _, o := range texts[:i] {
				if a.b.overlaps(o.b) {
					t.Errorf("%q overlaps %q", a.text, o.text)
				}
			}
		}
		if _, err := WriteFiles(dir, []Chart{c}, "png", "pdf"); err != nil {
			t.Fatal(err)
		}
	}
	// only greys
	c, err := CardChart(sampleCard(), A5)
	if err != nil {
		t.Fatal(err)
	}
	for _, h := range hexColor.FindAllString(string(c.svg(Wide)), -1) {
		if strings.EqualFold(h[1:3], h[3:5]) && strings.EqualFold(h[3:5], h[5:7]) {
			continue
		}
		t.Errorf("the card uses the colour %s", h)
	}
	long := sampleCard()
	for range 40 {
		long.SlowFirst = append(long.SlowFirst, "One more rule that nobody can remember at night in a seaway.")
	}
	var fe *FieldError
	if _, err := CardChart(long, A5); !errors.As(err, &fe) {
		t.Errorf("a card with 44 rules fits A5: %v", err)
	}
}
