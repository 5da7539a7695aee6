package main

import (
	"path/filepath"
	"testing"

	"foilledger/strategy"
	"foilledger/testdata/validation"
	"foilledger/vpp/units"
	"foilledger/weather/synth"
)

// TestBehaviourOfHandling checks with an example boat what sailors know: a foil
// is ground out below about 10 knots, and rake is added below about 20.
func TestBehaviourOfHandling(t *testing.T) {
	boat, _, err := readBoat(filepath.Join(root(t), "testdata", "boats", "small.toml"))
	if err != nil {
		t.Fatal(err)
	}
	f, err := buildFleet(t.Context(), boat, sharedCache(t), &progress{})
	if err != nil {
		t.Fatal(err)
	}
	sl, err := strategy.NewSailor(t.Context(), f.table, boat.Handling, &synth.Scene{}, strategy.Options{})
	if err != nil {
		t.Fatal(err)
	}
	row := func(id, quantity string, got, lo, hi float64, unit string) {
		t.Helper()
		validation.Band(t, validation.Row{Package: "cmd/foilledger", ID: id, Quantity: quantity, Got: got, Unit: unit, Source: "common practice", Kind: validation.Behaviour}, lo, hi)
	}
	tws, twa := units.MS(18), units.Rad(105)
	best, _ := sl.BestSetting(tws, twa, 0)
	if best == 0 {
		t.Fatal("foils do not pay in 18 kn of wind at 105°: the test shows nothing")
	}
	b := sl.BreakEven(0, best, tws, twa, 0)
	row("deploy-speed", "boat speed to which the boat slows to put the foil out, 18 kn of wind at 105°", units.Knots(b.Price.SlowMS), 5, 10.1, "kn")
	row("deploy-lost", "time lost by it", b.Price.LostS, 20, 400, "s")
	row("deploy-even", "break-even time of it", b.TimeS/60, 0.5, 90, "min")
	// In more wind the boat does more than 20 kn: adding rake needs a slow-down.
	tws, twa = units.MS(24), units.Rad(115)
	first := uint8(1)
	b = sl.BreakEven(first, uint8(len(boat.Settings())-1), tws, twa, 0)
	if units.Knots(b.OldMS) < 20.5 {
		t.Fatalf("the boat does only %.1f kn: the test shows nothing", units.Knots(b.OldMS))
	}
	row("rake-speed", "boat speed to which the boat slows to add rake, 24 kn of wind at 115°", units.Knots(b.Price.SlowMS), 5, 20.1, "kn")
}
