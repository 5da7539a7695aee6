package trial

import (
	"math"
	"sort"

	"foilledger/vpp/units"
)

// CeilingName is what the clairvoyant plan is called.
const CeilingName = "clairvoyant plan"

// Summary is what a trial says, in the units of people. Times gained and
// differences count positive when time is saved.
type Summary struct {
	Weathers int           `json:"weathers"`
	Block    int           `json:"block"` // weathers in a row that are resampled together
	Level    float64       `json:"level"` // of the intervals
	Boats    []BoatSummary `json:"boats"`
}

// BoatSummary is one boat's part of a trial.
type BoatSummary struct {
	Boat     string          `json:"boat"`
	Policies []PolicySummary `json:"policies"`
	Pairs    []PairSummary   `json:"pairs"`
	// Best is the policy with the shortest mean passage time on the weathers
	// that all finished, the ceiling aside; Second the next. −1: none.
	Best   int            `json:"best"`
	Second int            `json:"second"`
	Split  *Separation    `json:"separation,omitempty"`
	Search *SearchSummary `json:"search,omitempty"`
}

// PolicySummary is one policy's part. Everything but Arrived and Failed is over
// the weathers in which all policies arrived.
type PolicySummary struct {
	Name      string  `json:"policy"`
	Ceiling   bool    `json:"ceiling,omitempty"`
	Arrived   int     `json:"arrived"`
	NoWay     int     `json:"no_passage"`
	Uncovered int     `json:"not_covered"`
	TimeH     Spread  `json:"passage_time_h"`
	GainedMin Spread  `json:"time_gained_min"`
	RegretMin *Spread `json:"regret_min,omitempty"`
	// RegretPct is the mean regret in percent of the ceiling's mean passage
	// time, RegretMean the interval of the mean regret in minutes.
	RegretPct  float64   `json:"regret_percent"`
	RegretMean *Interval `json:"regret_mean_interval_min,omitempty"`
	// Share of the time that the ceiling gains.
	CeilingShare float64 `json:"share_of_ceiling_gain"`
	WonShare     float64 `json:"won_share"`
	Changes      Spread  `json:"changes"`
	Actions      Spread  `json:"actions"`
	EffortKJ     Spread  `json:"effort_kj"`
	SlowMin      Spread  `json:"slow_min"`
	LostMin      Spread  `json:"lost_min"`
	OutPct       Spread  `json:"foils_out_percent"`
	Breaches     Spread  `json:"limit_breaches"`
	HeldMin      Spread  `json:"held_min"`
	Boards       Spread  `json:"tacks_gybes"`
	// WorstWeather is the weather with the largest regret, or, without a
	// ceiling, the longest passage; −1: none.
	WorstWeather int     `json:"worst_weather"`
	WorstMin     float64 `json:"worst_regret_min"`
}

// Separation says which weathers tell two policies apart.
type Separation struct {
	A     string       `json:"a"`
	B     string       `json:"b"`
	ForA  []Telling    `json:"for_a"` // the largest differences first
	ForB  []Telling    `json:"for_b"`
	MeanA *MeanWeather `json:"mean_weather_for_a,omitempty"`
	MeanB *MeanWeather `json:"mean_weather_for_b,omitempty"`
}

// Telling is a weather that tells two policies apart.
type Telling struct {
	Weather  int     `json:"weather"`
	SavedMin float64 `json:"a_saves_min"`
	MeanWeather
}

// MeanWeather describes one or more weathers as the first policy met them.
type MeanWeather struct {
	N       int     `json:"n"`
	TWSKn   float64 `json:"tws_kn"`
	SwingKn float64 `json:"tws_swing_kn"`
	TWADeg  float64 `json:"twa_deg"`
	HsM     float64 `json:"hs_m"`
}

// tieS is the difference of passage times below which nobody wins.
const tieS = 1

// Summarizer makes summaries of the records of a study.
type Summarizer struct {
	Boats     []string
	Policies  []string
	Weathers  int
	Ceiling   bool
	Bootstrap Bootstrap
	// BlockFor gives the length of blocks for a mean passage time; nil: 1.
	BlockFor func(passageS float64) int
	// Search are the candidates of the records, Train says which weathers they
	// are chosen on.
	Search []Candidate
	Train  []bool
}

// column is one policy's results by weather; nil where the job was not done.
type column struct {
	name    string
	ceiling bool
	runs    []*Result
}

// columns sorts the records of one boat by policy.
func (z *Summarizer) columns(records []Record, boat int) []column {
	cols := make([]column, 0, len(z.Policies)+1)
	for i, name := range z.Policies {
		c := column{name: name, runs: make([]*Result, z.Weathers)}
		for k := range records {
			if r := &records[k]; r.Boat == boat && i < len(r.Runs) {
				c.runs[r.Weather] = &r.Runs[i]
			}
		}
		cols = append(cols, c)
	}
	if z.Ceiling {
		c := column{name: CeilingName, ceiling: true, runs: make([]*Result, z.Weathers)}
		for k := range records {
			if r := &records[k]; r.Boat == boat {
				c.runs[r.Weather] = r.Ceiling
			}
		}
		cols = append(cols, c)
	}
	return cols
}

// arrivedAll lists the weathers in which all columns arrived.
func arrivedAll(cols []column, weathers int) []int {
	var out []int
next:
	for w := range weathers {
		for _, c := range cols {
			if c.runs[w] == nil || c.runs[w].Outcome != Arrived {
				continue next
			}
		}
		out = append(out, w)
	}
	return out
}

func pick(c column, at []int, f func(*Result) float64) []float64 {
	x := make([]float64, len(at))
	for i, w := range at {
		x[i] = f(c.runs[w])
	}
	return x
}

func timeS(r *Result) float64 { return r.TimeS }

// Summarize makes the summary. Records are in any order.
func (z *Summarizer) Summarize(records []Record) *Summary {
	s := &Summary{Weathers: z.Weathers, Level: orDefault(z.Bootstrap.Level, 0.95), Block: 1}
	for b, name := range z.Boats {
		cols := z.columns(records, b)
		if z.BlockFor != nil {
			if at := arrivedAll(cols, z.Weathers); len(at) > 0 {
				s.Block = max(s.Block, z.BlockFor(mean(pick(cols[0], at, timeS))))
			}
		}
		s.Boats = append(s.Boats, BoatSummary{Boat: name})
	}
	boot := z.Bootstrap
	boot.Block = s.Block
	for b := range s.Boats {
		z.boat(&s.Boats[b], records, b, boot)
	}
	return s
}

func (z *Summarizer) boat(out *BoatSummary, records []Record, boat int, boot Bootstrap) {
	cols := z.columns(records, boat)
	common := arrivedAll(cols, z.Weathers)
	var ceiling []float64
	if z.Ceiling {
		ceiling = pick(cols[len(cols)-1], common, timeS)
	}
	base := pick(cols[0], common, timeS)
	out.Best, out.Second = -1, -1
	var order []int
	for i, c := range cols {
		p := PolicySummary{Name: c.name, Ceiling: c.ceiling, WorstWeather: -1}
		for _, r := range c.runs {
			switch {
			case r == nil:
			case r.Outcome == Arrived:
				p.Arrived++
			case r.Outcome == NoWay:
				p.NoWay++
			default:
				p.Uncovered++
			}
		}
		t := pick(c, common, timeS)
		p.TimeH = NewSpread(scaled(t, 1/units.SPerHour))
		p.GainedMin = NewSpread(scaled(Differences(base, t), 1.0/60))
		if ceiling != nil {
			regret := scaled(Differences(t, ceiling), 1.0/60)
			if !c.ceiling {
				sp := NewSpread(regret)
				_, iv := boot.Mean(regret)
				p.RegretMin, p.RegretMean = &sp, &iv
			}
			if m := mean(ceiling); m > 0 {
				p.RegretPct = 100 * (mean(t) - m) / m
				if g := mean(base) - m; g > 0 {
					p.CeilingShare = (mean(base) - mean(t)) / g
				}
			}
			for k, w := range common {
				if !c.ceiling && (p.WorstWeather < 0 || regret[k] > p.WorstMin) {
					p.WorstWeather, p.WorstMin = w, regret[k]
				}
			}
		} else {
			longest := -1.0
			for k, w := range common {
				if t[k] > longest {
					p.WorstWeather, longest = w, t[k]
				}
			}
		}
		p.Changes = NewSpread(pick(c, common, func(r *Result) float64 { return float64(r.Changes) }))
		p.Actions = NewSpread(pick(c, common, func(r *Result) float64 { return float64(r.Actions) }))
		p.EffortKJ = NewSpread(pick(c, common, func(r *Result) float64 { return r.EffortJ / 1000 }))
		p.SlowMin = NewSpread(pick(c, common, func(r *Result) float64 { return r.SlowS / 60 }))
		p.LostMin = NewSpread(pick(c, common, func(r *Result) float64 { return r.LostS / 60 }))
		p.OutPct = NewSpread(pick(c, common, func(r *Result) float64 { return 100 * r.OutS / r.TimeS }))
		p.Breaches = NewSpread(pick(c, common, func(r *Result) float64 { return float64(r.Breaches) }))
		p.HeldMin = NewSpread(pick(c, common, func(r *Result) float64 { return r.HeldS / 60 }))
		p.Boards = NewSpread(pick(c, common, func(r *Result) float64 { return r.Boards }))
		out.Policies = append(out.Policies, p)
		if !c.ceiling && len(common) > 0 {
			order = append(order, i)
		}
	}
	z.winners(out, cols, common)
	sort.SliceStable(order, func(a, b int) bool {
		return out.Policies[order[a]].TimeH.Mean < out.Policies[order[b]].TimeH.Mean
	})
	if len(order) > 0 {
		out.Best = order[0]
	}
	if len(order) > 1 {
		out.Second = order[1]
	}
	out.Pairs = pairs(cols, common, z.Weathers, boot)
	if out.Second >= 0 {
		out.Split = z.Separate(records, boat, out.Best, out.Second)
	}
	if len(z.Search) > 0 {
		out.Search = z.search(records, boat, boot)
	}
}

// winners shares out each weather among the fastest policies.
func (z *Summarizer) winners(out *BoatSummary, cols []column, common []int) {
	for _, w := range common {
		fastest := math.Inf(1)
		for _, c := range cols {
			if !c.ceiling {
				fastest = math.Min(fastest, c.runs[w].TimeS)
			}
		}
		var won []int
		for i, c := range cols {
			if !c.ceiling && c.runs[w].TimeS <= fastest+tieS {
				won = append(won, i)
			}
		}
		for _, i := range won {
			out.Policies[i].WonShare += 1 / float64(len(won)) / float64(len(common))
		}
	}
}

func scaled(x []float64, by float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = v * by
	}
	return out
}

// most is how many telling weathers are listed on each side.
const most = 5

// Separate finds the weathers that tell policies a and b apart.
func (z *Summarizer) Separate(records []Record, boat, a, b int) *Separation {
	cols := z.columns(records, boat)
	features := make([]Features, z.Weathers)
	for i := range records {
		if records[i].Boat == boat {
			features[records[i].Weather] = records[i].Features
		}
	}
	s := &Separation{A: cols[a].name, B: cols[b].name, ForA: []Telling{}, ForB: []Telling{}}
	for _, w := range arrivedAll([]column{cols[a], cols[b]}, z.Weathers) {
		d := cols[b].runs[w].TimeS - cols[a].runs[w].TimeS
		f := features[w]
		t := Telling{Weather: w, SavedMin: d / 60, MeanWeather: MeanWeather{N: 1, TWSKn: units.Knots(f.TWSMS), SwingKn: units.Knots(f.SwingMS), TWADeg: units.Deg(f.TWARad), HsM: f.HsM}}
		switch {
		case d > tieS:
			s.ForA = append(s.ForA, t)
		case d < -tieS:
			s.ForB = append(s.ForB, t)
		}
	}
	s.MeanA, s.MeanB = meanWeather(s.ForA), meanWeather(s.ForB)
	sort.SliceStable(s.ForA, func(i, j int) bool { return s.ForA[i].SavedMin > s.ForA[j].SavedMin })
	sort.SliceStable(s.ForB, func(i, j int) bool { return s.ForB[i].SavedMin < s.ForB[j].SavedMin })
	s.ForA, s.ForB = s.ForA[:min(most, len(s.ForA))], s.ForB[:min(most, len(s.ForB))]
	return s
}

func meanWeather(ts []Telling) *MeanWeather {
	if len(ts) == 0 {
		return nil
	}
	m := &MeanWeather{N: len(ts)}
	k := 1 / float64(len(ts))
	for _, t := range ts {
		m.TWSKn += k * t.TWSKn
		m.SwingKn += k * t.SwingKn
		m.TWADeg += k * t.TWADeg
		m.HsM += k * t.HsM
	}
	return m
}
