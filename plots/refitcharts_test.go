package plots

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"
)

// sampleVariants are three variants of a boat. Invented.
func sampleVariants() (bars *VariantBars, split *SplitBars, trade *TradeOff) {
	bars = &VariantBars{Title: "Gained", Label: "min", Rows: []VariantBar{{"a longer foil with a long name that does not fit beside the bars", 12, 5, 19}, {"pump below", -1.4, -2.7, 0}, {"nothing", 0, 0, 0}}}
	split = &SplitBars{Title: "Causes", Label: "min", Rows: []SplitRow{{"a", []SplitPart{{"sailing", 9}, {"weather", -3}}}, {"b", nil}}}
	trade = &TradeOff{Title: "Trade", XLabel: "kg", YLabel: "min", Points: []TradePoint{{"as she is", 0, 0, true}, {"longer", 40, 12, true}, {"heavy", 60, 3, false}}}
	return bars, split, trade
}

func TestRefitCharts(t *testing.T) {
	bars, split, trade := sampleVariants()
	pairs := &Pairs{Title: "Gained", RowLabel: "pump", ColumnLabel: "power (W)", Rows: []string{"cockpit", "below"}, Columns: []string{"80", "120"}, Values: [][]float64{{0.5, 0.7}, {-1.3, 0}}}
	for _, x := range []struct {
		name, want string
		chart      func() (Chart, error)
	}{
		{"bars", "pump below −1.4 (−2.7 to 0.0)", func() (Chart, error) { return VariantBarsChart("gain", bars) }},
		{"split", "a sailing +9.0, weather −3.0,", func() (Chart, error) { return SplitBarsChart("causes", split) }},
		{"pairs", "below and 80 −1.3; below and 120 0.0;", func() (Chart, error) { return PairsChart("pairs", pairs) }},
		{"trade", "longer +12.0 for +40.0", func() (Chart, error) { return TradeOffChart("trade", trade) }},
	} {
		c, err := x.chart()
		if err != nil {
			t.Errorf("%s: %v", x.name, err)
			continue
		}
		if !strings.Contains(c.Alt, x.want) {
			t.Errorf("%s: text alternative %q lacks %q", x.name, c.Alt, x.want)
		}
		for _, z := range []Size{Wide, Narrow} {
			var b bytes.Buffer
			if err := c.SVG(&b, z); err != nil || b.Len() == 0 {
				t.Errorf("%s: %v, %d bytes", x.name, err, b.Len())
			}
		}
	}
	var fe *FieldError
	bars.Rows[0].Hi = math.NaN()
	if _, err := VariantBarsChart("gain", bars); !errors.As(err, &fe) {
		t.Errorf("NaN: %v", err)
	}
	if _, err := SplitBarsChart("causes", &SplitBars{}); !errors.As(err, &fe) {
		t.Errorf("no rows: %v", err)
	}
	if _, err := TradeOffChart("trade", &TradeOff{}); !errors.As(err, &fe) {
		t.Errorf("no points: %v", err)
	}
	pairs.Values[1] = pairs.Values[1][:1]
	if _, err := PairsChart("pairs", pairs); !errors.As(err, &fe) || fe.Field != "Pairs.Values[1]" {
		t.Errorf("short row of pairs: %v", err)
	}
	page := &StudyPage{Title: "Study", Sections: []StudySection{{Title: "One", Table: &PageTable{Head: []string{"a", "b"}, Rows: [][]string{{"<x>", "1"}}}, Text: []string{"said"}}}}
	var b bytes.Buffer
	if err := WriteStudyPage(&b, page); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"&lt;x&gt;", "<li>said</li>", Cautions[1]} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	// The name of a namespace is no address.
	body := strings.ReplaceAll(b.String(), "http://www.w3.org/2000/svg", "")
	if strings.Contains(body, "http://") || strings.Contains(body, "https://") {
		t.Error("the page reaches for the network")
	}
	page.Sections[0].Table.Rows[0] = []string{"short"}
	if err := WriteStudyPage(&b, page); !errors.As(err, &fe) {
		t.Errorf("short row: %v", err)
	}
}
