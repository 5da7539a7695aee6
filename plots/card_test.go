package plots

import (
	"os"
	"path/filepath"
	"testing"
)

// fullCard is as much as a card holds: twelve boxes of which two have advice
// for the sea, and all the sentences.
func fullCard() *RuleCard {
	d := &RuleCard{Title: "Foils: in or out", Boat: "Petrel 60, small foils (invented)", Version: "0123456789ab", RegretPercent: 0.35, KeptPercent: 91,
		FittedOn: "124 passages", TestedOn: "118 others",
		TWSBandsKn:  []Band{{0, 3}, {3, 8}, {8, 13}, {13, 18}, {18, 24}, {24, 30}, {30, 99}},
		TWABandsDeg: []Band{{0, 60}, {60, 80}, {80, 100}, {100, 125}, {125, 180}},
		SlowFirst: []string{"Put out: up to 10 kn of boat speed; luff; costs 87 s.", "Take in: up to 10 kn of boat speed; ease the sails; costs 118 s.",
			"Add rake: up to 20 kn of boat speed; costs 13 s.", "Take off rake: up to 30 kn of boat speed; costs 7 s.", "Windward foil: at any speed, before the tack or gybe."},
		Notes: []string{"Change only when clear of the box: wind by 1 kn, angle by 5°, sea by 0.25 m.",
			"No change within 60 min of the last.", "Beating or gybing down: set both foils alike.",
			"Load or bow near its limit: take rake off by degrees, then the foils in.", "Foils in above 36 kn of wind or 5.2 m of sea."},
	}
	box := [][]int{{1, 1, 1, 1, 1}, {2, 3, 3, 3, 3}, {2, 4, 4, 4, 5}, {6, 6, 6, 7, 7}, {6, 6, 6, 8, 9}, {10, 10, 10, 8, 9}, {10, 10, 10, 11, 12}}
	for _, row := range box {
		var cells []RuleCell
		for _, b := range row {
			c := RuleCell{Box: b, CardAdvice: CardAdvice{Out: b > 3, Both: b%2 == 0, Leave: b == 2, Extension: 1, RakeDeg: float64(b % 6)}}
			if b == 7 || b == 10 {
				c.RakeDeg, c.RakeFarDeg, c.EachDeg = 5, 1, 12
			}
			if b == 8 {
				c.RakeDeg, c.RakeFarDeg, c.EachKn = 5, 1, 2
			}
			if c.Out {
				c.BreakEvenMin = float64(7 * b)
			}
			if b == 6 || b == 8 {
				c.Sea = &SeaAdvice{2.5, CardAdvice{Out: true, Extension: 1, RakeDeg: 5}}
			}
			cells = append(cells, c)
		}
		d.Cells = append(d.Cells, cells)
	}
	return d
}

func TestFullCardFits(t *testing.T) {
	var charts []Chart
	for _, p := range []Paper{A5, A4} {
		c, err := CardChart(fullCard(), p)
		if err != nil {
			t.Errorf("paper %d: %v", p, err)
			continue
		}
		charts = append(charts, c)
	}
	dir := os.Getenv("FOILLEDGER_PICTURES") // to look at
	if dir == "" {
		dir = t.TempDir()
	}
	names, err := WriteFiles(filepath.Clean(dir), charts, "pdf", "png")
	if err != nil || len(names) != 4 {
		t.Fatalf("wrote %v, %v", names, err)
	}
}
