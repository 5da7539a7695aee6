package plots

import (
	"fmt"
	"math"
	"time"
)

// samplePassage is an invented passage of an invented boat: the numbers hang
// together (the ledger sums, the running gain ends at the total) but come from
// no model.
func samplePassage() *PassageReport {
	t0 := time.Date(2026, 4, 11, 6, 0, 0, 0, time.UTC)
	wind := func(h float64) (kn, from float64) {
		return 15 + 7*math.Sin(h/13) + 3*math.Sin(h/4.1+1), 330 + 62*math.Sin(h/15) + 12*math.Sin(h/5)
	}
	const lat0, lon0, lat1, lon1 = 46.6, -6.5, 37.9, -29.5
	place := func(f float64) (lat, lon, course float64) {
		return lat0 + f*(lat1-lat0) + 1.2*math.Sin(math.Pi*f), lon0 + f*(lon1-lon0), 240 + 18*math.Sin(math.Pi*f-1)
	}
	const total = 1180.0
	sail := func(foils bool) []Step {
		var steps []Step
		d, spent := 0.0, 0.0
		for h := 0.0; d < total; h += 0.5 {
			kn, from := wind(h)
			lat, lon, course := place(d / total)
			rel := math.Mod(from-course+720, 360)
			board := "starboard"
			if rel > 180 {
				rel, board = 360-rel, "port"
			}
			bsp := 19 * (1 - math.Exp(-kn/11)) * (0.55 + 0.45*math.Sin(rel*math.Pi/180))
			ext, rake := 0.0, 0.0
			if foils && kn > 12 && rel > 65 && rel < 150 {
				ext, rake = 1, 3
				if kn > 18 {
					rake = 4
				}
				if kn > 22 {
					ext = 0.75
				}
				bsp *= 1 + 0.025*math.Min(kn-9, 12)
			}
			p := Step{
				Time: t0.Add(time.Duration(h * float64(time.Hour))), LatDeg: lat, LonDeg: lon, DistanceNM: d,
				BSPKn: bsp, SOGKn: bsp + 0.3*math.Sin(h/9), TWSKn: kn, TWADeg: rel, WindFromDeg: math.Mod(from+360, 360),
				HsM: 0.8 + kn/9, WaveFromDeg: math.Mod(from+380, 360), HeadingDeg: course, Board: board,
				HeelDeg: 8 + kn*0.6, TrimDeg: 0.3 + rake*0.4, HullLoad: 1 - ext*0.4*math.Min(1, bsp/22), FoilLiftT: ext * 4.2 * math.Min(1, bsp*bsp/400),
				BowImmersionsPerHour: math.Max(0, kn/6-rake/2), Sail: "main and reaching headsail", Doing: "sailing", EffortKJ: spent,
				GustKn: kn * 1.35, CurrentKn: 0.3, CurrentToDeg: 70, OutsideModel: kn > 23.5,
			}
			if board == "port" {
				p.StbdExt, p.StbdRakeDeg = ext, rake
			} else {
				p.PortExt, p.PortRakeDeg = ext, rake
			}
			if kn > 22 {
				p.RuledBy = "foil load"
			}
			steps = append(steps, p)
			d += p.SOGKn * 0.5
		}
		return steps
	}
	plan, base := sail(true), sail(false)
	hours := func(steps []Step) float64 {
		a := steps[len(steps)-1]
		return a.Time.Sub(t0).Hours() + (total-a.DistanceNM)/a.SOGKn
	}
	r := &PassageReport{
		Title: "Invented passage: Biscay to the Azores", Boat: "invented sixty, small foils",
		Departure: t0, DistanceNM: total, PassageTimeH: hours(plan), Steps: plan,
		Version: "test", BoundGapMin: 11.4,
	}
	r.Arrival = t0.Add(time.Duration(r.PassageTimeH * float64(time.Hour)))
	gainMin := 60 * (hours(base) - hours(plan))
	r.Baselines = []Baseline{
		{Name: "foils aboard, never used", PassageTimeH: hours(base), TimeGainedMin: gainMin, Steps: base},
		{Name: "foils not aboard", PassageTimeH: hours(base) - 0.7, TimeGainedMin: gainMin - 42},
	}
	r.Ledger = []LedgerRow{
		{"sailing with foils that pay", gainMin + 21.3}, {"foils out that do not pay", -6.1}, {"slowing to deploy", -7.9},
		{"slowing to retract", -4.4}, {"slowing to add rake", -2.1}, {"tacks and gybes", 0.6}, {"other weather met", -1.4},
	}
	r.Baselines[1].Ledger = []LedgerRow{{"sailing with foils that pay", gainMin - 30}, {"foils aboard: weight and windage", -12}}
	timeAt := func(steps []Step, d float64) time.Time {
		for i := 1; i < len(steps); i++ {
			if a, b := steps[i-1], steps[i]; b.DistanceNM >= d {
				f := (d - a.DistanceNM) / (b.DistanceNM - a.DistanceNM)
				return a.Time.Add(time.Duration(f * float64(b.Time.Sub(a.Time))))
			}
		}
		a := steps[len(steps)-1]
		return a.Time.Add(time.Duration((d - a.DistanceNM) / a.SOGKn * float64(time.Hour)))
	}
	for k := 0; k <= 118; k++ {
		d := total * float64(k) / 118
		tp := timeAt(plan, d)
		r.Running = append(r.Running, RunningPoint{tp, d, timeAt(base, d).Sub(tp).Minutes()})
	}
	for i := 1; i < len(plan); i++ {
		a, b := plan[i-1], plan[i]
		e0, k0 := a.leeward()
		e1, k1 := b.leeward()
		side := map[string]string{"port": "starboard", "starboard": "port"}[b.Board]
		act := ""
		switch {
		case e0 == 0 && e1 > 0:
			act = "deploy"
		case e0 > 0 && e1 == 0:
			act = "retract"
		case e1 < e0:
			act = "shorten"
		case e1 > e0:
			act = "extend"
		case k1 > k0:
			act = "add rake"
		case k1 < k0:
			act = "take off rake"
		default:
			continue
		}
		ceiling := 10.0
		if act == "add rake" {
			ceiling = 20
		} else if act == "take off rake" {
			ceiling = 30
		}
		r.Actions = append(r.Actions, Action{
			Time: b.Time, LatDeg: b.LatDeg, LonDeg: b.LonDeg, DistanceNM: b.DistanceNM, Side: side, Action: act,
			From: foilWords(e0, k0), To: foilWords(e1, k1), LostS: 60 + 10*k1, EffortKJ: 22, BSPBeforeKn: a.BSPKn, CeilingKn: ceiling,
			Reason: "The wind holds above the break-even for the next hours; an hour earlier or later gains less.",
		})
	}
	for h := 20.0; h < r.PassageTimeH; h += 24 {
		r.Rests = append(r.Rests, Rest{t0.Add(time.Duration(h * float64(time.Hour))), t0.Add(time.Duration((h + 3) * float64(time.Hour)))})
	}
	for _, tws := range []float64{10, 14, 18, 22} {
		for _, act := range []string{"deploy leeward foil", "retract leeward foil"} {
			pays := tws > 10 == (act[0] == 'd')
			r.BreakEven = append(r.BreakEven, BreakEvenRow{Action: act, From: "in", To: "out, rake 3°", TWSKn: tws, TWADeg: 105, HsM: 1.5,
				LostS: 60 + tws, EffortKJ: 31, OldBSPKn: tws, NewBSPKn: tws + 2, Pays: pays, BreakEvenMin: 300 / tws})
		}
	}
	w := &WindGrid{}
	for lon := -36.0; lon <= 0; lon += 3 {
		w.LonDeg = append(w.LonDeg, lon)
	}
	for lat := 33.0; lat <= 51; lat += 2 {
		w.LatDeg = append(w.LatDeg, lat)
	}
	for h := 0.0; h <= r.PassageTimeH+6; h += 6 {
		var u, v, hs []float64
		for _, lat := range w.LatDeg {
			for _, lon := range w.LonDeg {
				kn, from := wind(h + (lon+6.5)*0.8 + (lat - 46))
				sin, cos := math.Sincos(from * math.Pi / 180)
				u, v, hs = append(u, -kn*sin), append(v, -kn*cos), append(hs, 0.8+kn/9)
			}
		}
		w.Times = append(w.Times, t0.Add(time.Duration(h*float64(time.Hour))))
		w.UKn, w.VKn, w.HsM = append(w.UKn, u), append(w.VKn, v), append(w.HsM, hs)
	}
	r.Wind = w
	// an invented outline of some land in the corner
	r.Coast = [][]Place{{{-9.2, 38.5}, {-8.8, 41.5}, {-9.2, 43.2}, {-7.8, 43.8}, {-3.5, 43.5}, {-1.5, 43.4}, {-1.2, 45.5}, {-2.5, 47.3}, {-4.6, 48}, {-4.5, 48.6}, {3, 49.5}, {3, 37}, {-8.9, 37}}}
	r.Headline = fmt.Sprintf("Use the foils for about half of the passage: arrive on %s, %s earlier than with the foils never used.", stamp(r.Arrival), span(gainMin))
	r.ConstraintCosts = []ConstraintCost{{"rest: 3 h unbroken every night", 4.2}, {"at most 6 changes a day", 0.8}}
	r.Warnings = []string{"The forecast has no waves; they were made from the wind."}
	r.Assumptions = []string{"Steady wind between the steps of the forecast, interpolated in space and time.", "The sail set chosen for speed at every step."}
	r.Limits = []string{"foil load ruled for 7 h"}
	r.Inputs = []Input{{"sixty.toml", "5d41402abc4b2a76b9719d911017c5925d41402abc4b2a76b9719d911017c592"}, {"forecast.grib2", "7d793037a0760186574b0282f2f435e77d793037a0760186574b0282f2f435e7"}}
	for i := range 21 {
		r.Members = append(r.Members, MemberGain{i, gainMin + 55*math.Sin(float64(i*i))})
	}
	r.GainLowMin, r.GainMidMin, r.GainHighMin = gainMin-50, gainMin+3, gainMin+52
	r.SpreadWords = "Over 21 members the same schedule gains more than nothing in all."
	r.BreakMaps = []*BreakEvenMap{sampleBreakEven()}
	r.BreakMaps[0].Name, r.BreakMaps[0].Sea = "break-even-deploy", "flat water"
	r.ByHand = &ByHand{Name: "mine.csv", Words: "The schedule mine.csv is 12 min slower.", PassageTimeH: r.PassageTimeH + 0.2, TimeGainedMin: gainMin - 12, BehindMin: 12, Actions: r.Actions[:2]}
	r.Precision, r.RestWords, r.Caveats = []string{"To about 2 min."}, []string{"3 spans"}, Caveats
	r.LocalZone = time.FixedZone("UTC+02:00", 2*3600)
	return r
}
