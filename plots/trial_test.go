package plots

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// sampleTrial is a trial of three policies and a ceiling. Invented.
func sampleTrial(weathers int) *TrialReport {
	b := TrialBoat{Boat: "Petrel 60 (invented)", Headline: "Best is “re-plan”.", Best: 2, CeilingPct: 85}
	for i, name := range []string{"never out", "thresholds", "re-plan", "clairvoyant plan"} {
		p := TrialPolicy{Name: name, Ceiling: i == 3, MedianH: 110 - float64(i), MedianMin: 60 * float64(i), P10: 20 * float64(i), P90: 90 * float64(i), WonPct: 30}
		for k := range weathers {
			p.GainedMin = append(p.GainedMin, float64(i)*(60+40*math.Sin(float64(k)))+3*float64(i*(k%3)))
		}
		b.Policies = append(b.Policies, p)
	}
	b.Pairs = []TrialPair{{"re-plan", "thresholds", 40, 10, 70, 80, true}, {"thresholds", "never out", 12, -3, 25, 60, false}}
	return &TrialReport{Title: "Trial of foil policies", Weathers: weathers, Boats: []TrialBoat{b}, Warnings: []string{"few weathers"},
		Inputs: []Input{{"a.toml", strings.Repeat("0", 64)}}, Version: "test"}
}

func TestTrialCharts(t *testing.T) {
	dir := lookInto(t)
	r := sampleTrial(40)
	cs, err := TrialCharts(r)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, c := range cs {
		names = append(names, c.Name)
		if len(c.Alt) < 40 {
			t.Errorf("%s is described as %q", c.Name, c.Alt)
		}
		for z, suffix := range map[Size]string{Wide: "", Narrow: "-narrow"} {
			var b bytes.Buffer
			if err := c.pngAt(&b, z, 90); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, c.Name+suffix+".png"), b.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	if got := strings.Join(names, " "); got != "gain-by-policy regret pairs" {
		t.Errorf("charts %s", got)
	}
	dots := func(n int) int {
		cs, err := TrialCharts(sampleTrial(n))
		if err != nil {
			t.Fatal(err)
		}
		return bytes.Count(cs[0].svg(Wide), []byte("<path"))
	}
	if a, b, c := dots(40), dots(150), dots(5000); !(a < b && b == c) {
		t.Errorf("%d, %d and %d paths for 40, 150 and 5000 weathers", a, b, c)
	}

	two := sampleTrial(12)
	two.Boats = append(two.Boats, two.Boats[0])
	var page bytes.Buffer
	if err := WriteTrialPage(&page, two); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"gain-by-policy-1", "gain-by-policy-2", "may be chance", "Best policy", "few weathers", "lookout"} {
		if !strings.Contains(page.String(), want) {
			t.Errorf("the page lacks %q", want)
		}
	}

	many := sampleTrial(400)
	for len(many.Boats[0].Policies) < 9 {
		many.Boats[0].Policies = append([]TrialPolicy{many.Boats[0].Policies[0]}, many.Boats[0].Policies...)
	}
	for len(many.Boats) < 6 {
		many.Boats = append(many.Boats, many.Boats[0])
	}
	if err := WriteTrialPage(io.Discard, many); err != nil {
		t.Errorf("six boats, nine policies, many weathers: %v", err)
	}

	for i, spoil := range []func(*TrialReport){
		func(r *TrialReport) { r.Boats = nil },
		func(r *TrialReport) { r.Boats[0].Policies = nil },
		func(r *TrialReport) { r.Boats[0].Best = 4 },
		func(r *TrialReport) { r.Boats[0].Policies[1].GainedMin[3] = math.NaN() },
		func(r *TrialReport) { r.Boats[0].Policies[1].GainedMin = r.Boats[0].Policies[1].GainedMin[1:] },
	} {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			r := sampleTrial(8)
			spoil(r)
			var fe *FieldError
			if _, err := TrialCharts(r); !errors.As(err, &fe) {
				t.Errorf("got %v", err)
			}
		})
	}
}
