package main

import (
	"foilledger/vpp/units"
)

// refitJSON is the result of refit as one object.
type refitJSON struct {
	Boat           string             `json:"boat"`
	Passages       int                `json:"passages"`
	Weathers       int                `json:"weathers"` // of one, the intervals say nothing
	LeftOut        []string           `json:"passages_left_out"`
	Variants       []refitVariantJSON `json:"variants"`
	Marginal       []refitMarginal    `json:"marginal_values"`
	Samples        int                `json:"samples"`
	SamplePassages int                `json:"sample_passages"`
	CoarseErrorMin float64            `json:"coarse_error_min"`
	Files          []string           `json:"files,omitempty"`
	Warnings       []string           `json:"warnings"`
	Inputs         []input            `json:"inputs"`
	Version        string             `json:"version"`
}

type refitVariantJSON struct {
	Name        string            `json:"name"`
	Short       string            `json:"short"` // in charts and tables
	Changes     map[string]any    `json:"changes"`
	GainMin     float64           `json:"gain_min"` // over the boat as she is
	IntervalMin [2]float64        `json:"gain_interval_min"`
	JointMin    [2]float64        `json:"gain_joint_interval_min"` // of all variants at once
	MedianMin   float64           `json:"gain_median_min"`
	P10Min      float64           `json:"gain_p10_min"`
	P90Min      float64           `json:"gain_p90_min"`
	Faster      float64           `json:"faster_share"`
	OwnGainMin  float64           `json:"gain_over_never_out_min"`
	FoilGainMin float64           `json:"gain_over_no_foils_min"`
	Ledger      []refitLedgerJSON `json:"ledger"`
	AddedKg     float64           `json:"added_mass_kg"`
	FoilKg      float64           `json:"foil_mass_kg"` // of each foil
	DisplaceKg  float64           `json:"displacement_kg"`
	GMM         float64           `json:"metacentric_height_m"`
	RightingKNM float64           `json:"righting_moment_10_deg_kn_m"`
	LoadTf      float64           `json:"foil_load_tf"`
	Limited     float64           `json:"ruled_by_foil_load_share"`
	Changing    float64           `json:"foil_changes"`
	EffortKJ    float64           `json:"effort_kj"`
	Model       *refitModelJSON   `json:"model,omitempty"`
}

type refitLedgerJSON struct {
	Cause   string  `json:"cause"`
	Minutes float64 `json:"minutes"`
}

type refitModelJSON struct {
	MedianMin float64           `json:"gain_median_min"`
	P10Min    float64           `json:"gain_p10_min"`
	P90Min    float64           `json:"gain_p90_min"`
	Positive  float64           `json:"positive_share"`
	ShiftMin  float64           `json:"shifted_min"` // for the coarser tables
	Explained float64           `json:"explained_share"`
	Effects   []refitEffectJSON `json:"effects"`
}

type refitEffectJSON struct {
	Factor  string  `json:"factor"`
	Low     float64 `json:"low"`
	High    float64 `json:"high"`
	LowMin  float64 `json:"at_low_min"`
	HighMin float64 `json:"at_high_min"`
}

type refitMarginal struct {
	Key         string     `json:"key"`
	From        float64    `json:"from"`
	To          float64    `json:"to"`
	MinPerUnit  float64    `json:"min_per_unit"`
	IntervalMin [2]float64 `json:"interval_min_per_unit"`
	JointMin    [2]float64 `json:"joint_interval_min_per_unit"`
}

func (res *refitResult) json() *refitJSON {
	j := &refitJSON{Boat: res.boat.Name, Passages: res.cmp.Passages, Weathers: res.cmp.Weathers, LeftOut: append([]string{}, res.leftOut...), Samples: res.samples,
		SamplePassages: res.cmp.SamplePassages, CoarseErrorMin: res.cmp.CoarseErrorMin, Marginal: []refitMarginal{},
		Warnings: append([]string{}, res.warnings...), Inputs: res.inputs, Version: version()}
	for i := range res.cmp.Variants {
		c := &res.cmp.Variants[i]
		b := res.boats[i]
		v := refitVariantJSON{Name: c.Name, Short: res.labels[i], FoilKg: foilKg(b), DisplaceKg: b.Hull.DisplacementKg, GMM: b.Hull.GMM, RightingKNM: rightingKNM(b), Changes: map[string]any{}, GainMin: c.Gain, IntervalMin: [2]float64{c.Interval.Lo, c.Interval.Hi},
			JointMin:  [2]float64{c.Joint.Lo, c.Joint.Hi},
			MedianMin: c.Spread.Median, P10Min: c.Spread.P10, P90Min: c.Spread.P90, Faster: c.Faster, OwnGainMin: c.OwnGain, FoilGainMin: c.FoilGain,
			AddedKg: c.AddedKg, LoadTf: units.TonnesForce(c.LoadN), Limited: c.Limited, Changing: c.Changes, EffortKJ: c.EffortJ / 1000, Ledger: []refitLedgerJSON{}}
		if i > 0 {
			for _, ch := range res.variants[i-1].Changes {
				v.Changes[ch.Key] = ch.Value
			}
		}
		for _, it := range c.Ledger {
			v.Ledger = append(v.Ledger, refitLedgerJSON{it.Cause, it.GainS})
		}
		if len(c.Samples) > 0 {
			m := &refitModelJSON{MedianMin: c.Model.Median, P10Min: c.Model.P10, P90Min: c.Model.P90, Explained: c.Fit, ShiftMin: c.Shift, Positive: positive(c.Samples), Effects: []refitEffectJSON{}}
			for _, e := range c.Effects {
				m.Effects = append(m.Effects, refitEffectJSON{e.Range.Name, e.Range.Low, e.Range.High, e.LowMin, e.HiMin})
			}
			v.Model = m
		}
		j.Variants = append(j.Variants, v)
	}
	for _, m := range res.marginals {
		j.Marginal = append(j.Marginal, refitMarginal{m.Key, m.From, m.To, m.MinPerUnit, [2]float64{m.Interval.Lo, m.Interval.Hi}, [2]float64{m.Joint.Lo, m.Joint.Hi}})
	}
	return j
}

func positive(x []float64) float64 {
	n := 0.0
	for _, v := range x {
		if v > 0 {
			n++
		}
	}
	return n / float64(len(x))
}
