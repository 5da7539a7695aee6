package plots

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestScalingChart(t *testing.T) {
	d := ScalingData{Title: "Time of a plan against stages", Size: "stages", Note: "Invented figures.", Lines: []ScalingLine{
		{Label: "16 foil states", Size: []float64{50, 100, 200}, TimeS: []float64{0.01, 0.021, 0.04}},
		{Label: "49 foil states", Size: []float64{50, 100, 200}, TimeS: []float64{0.03, 0.06, 0.13}},
	}}
	c, err := ScalingChart(&d)
	if err != nil {
		t.Fatal(err)
	}
	for z, suffix := range map[Size]string{Wide: "", Narrow: "-narrow"} {
		var b bytes.Buffer
		if err := c.SVG(&b, z); err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{"49 foil states", "time (ms)", "stages"} {
			if !strings.Contains(b.String(), want) {
				t.Errorf("%v: the picture does not say %q", z, want)
			}
		}
		if err := os.WriteFile(filepath.Join(lookInto(t), c.Name+suffix+".svg"), b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, bad := range []struct {
		name, want string
		lines      []ScalingLine
	}{
		{"none", "ScalingData.Lines", nil},
		{"unequal", "as many of both", []ScalingLine{{Label: "x", Size: []float64{1, 2}, TimeS: []float64{1}}}},
		{"falling", "must rise", []ScalingLine{{Label: "x", Size: []float64{2, 1}, TimeS: []float64{1, 2}}}},
		{"negative", "must rise", []ScalingLine{{Label: "x", Size: []float64{1, 2}, TimeS: []float64{1, -2}}}},
	} {
		e := d
		e.Lines = bad.lines
		if _, err := ScalingChart(&e); err == nil || !strings.Contains(err.Error(), bad.want) {
			t.Errorf("%s: error %v, want %q", bad.name, err, bad.want)
		}
	}
}
