package plots

import (
	_ "embed"
	"fmt"
	"io"
	"math"
	"time"
)

//go:embed page/passage.js
var passageJS string

// maxPageSteps bounds the steps that a page draws and embeds; longer runs are
// thinned, keeping every change of state.
const maxPageSteps = 1200

// WritePassagePage writes one self-contained HTML page: no network, no file
// beside it, under MaxPageBytes. It fails with a *FieldError when the report
// does not pass Validate.
func WritePassagePage(w io.Writer, r *PassageReport) error {
	if err := r.Validate(); err != nil {
		return err
	}
	thinned := *r
	thinned.Steps = thin(r.Steps)
	thinned.Baselines = append([]Baseline(nil), r.Baselines...)
	for i := range thinned.Baselines {
		thinned.Baselines[i].Steps = thin(r.Baselines[i].Steps)
	}
	thinned.Running = thinRunning(r.Running)
	return render(w, "passage", newPassagePage(&thinned), "coarsen the coast or the wind grid")
}

// thin drops steps evenly, but none at which words or foils change.
func thin(steps []Step) []Step {
	if len(steps) <= maxPageSteps {
		return steps
	}
	every := (len(steps) + maxPageSteps - 1) / maxPageSteps
	var out []Step
	for i, p := range steps {
		keep := i%every == 0 || i == len(steps)-1
		if i > 0 && !keep {
			q := steps[i-1]
			keep = p.Board != q.Board || p.PortExt != q.PortExt || p.StbdExt != q.StbdExt ||
				p.PortRakeDeg != q.PortRakeDeg || p.StbdRakeDeg != q.StbdRakeDeg || p.Doing != q.Doing
		}
		if keep {
			out = append(out, p)
		}
	}
	return out
}

func thinRunning(rs []RunningPoint) []RunningPoint {
	if len(rs) <= maxPageSteps {
		return rs
	}
	every := (len(rs) + maxPageSteps - 1) / maxPageSteps
	var out []RunningPoint
	for i, p := range rs {
		if i%every == 0 || i == len(rs)-1 {
			out = append(out, p)
		}
	}
	return out
}

// passagePage is what the template of a passage sees.
type passagePage struct {
	*PassageReport
	frame
	MapChart   inlined
	LedgerPic  inlined
	MembersPic *inlined
	BreakPics  []inlined
	Charts     []inlined
	LocalName  string
	LimitLines []string
	Occasions  []occasion

	LedgerHeads, LedgerTotals []string
	LedgerLines               []ledgerLine

	EvenCaption string
	EvenAngles  []float64
	EvenLines   []evenLine
}

func newPassagePage(r *PassageReport) *passagePage {
	p := &passagePage{PassageReport: r, Occasions: occasions(r)}
	p.Charts = inlineAll([]Chart{gainChart(r), speedChart(r), foilChart(r)})
	if len(r.Ledger) > 0 {
		p.LedgerPic = inline(ledgerChart(r))
		p.tabulateLedgers()
	}
	if len(r.Members) > 1 {
		m := inline(membersChart(r))
		p.MembersPic = &m
	}
	p.BreakPics = inlineAll(breakCharts(r))
	p.tabulateBreakEven()
	p.LimitLines = append([]string(nil), r.Limits...)
	outside := 0
	for _, q := range r.Steps {
		if q.OutsideModel {
			outside++
		}
	}
	if outside > 0 {
		p.LimitLines = append(p.LimitLines, fmt.Sprintf("The boat model was used outside its range on %.0f %% of the steps; trust it less there.", math.Ceil(100*float64(outside)/float64(len(r.Steps)))))
	}
	c := mapChart(r)
	c.Title = ""
	sizeMap(&c, r)
	var views [2]mapView
	var taken [2][][4]float64
	c.draw = func(s *sheet) {
		i := 0
		if s.narrow {
			i = 1
		}
		views[i] = drawMap(s, r, s.box.y1-2, false)
		taken[i] = nil
		for _, b := range append(append([]box(nil), s.texts...), s.marks...) {
			taken[i] = append(taken[i], [4]float64{round(b.x0, 1), round(s.box.y1-b.y1, 1), round(b.x1, 1), round(s.box.y1-b.y0, 1)})
		}
	}
	p.MapChart = inline(c)
	data := newPassageData(r)
	for i, z := range []Size{Wide, Narrow} {
		w, h := c.size(z)
		v := views[i]
		data.Views = append(data.Views, [10]float64{v.x0, h - v.y1, v.x1, h - v.y0, v.west, v.east, mercator(v.south), mercator(v.north), w, h})
	}
	data.Taken = taken[:]
	p.frame = newFrame(passageJS, data, p.keyNumbers()...)
	p.AllCaution = append(append([]string(nil), Cautions...), r.Cautions...)
	if r.LocalZone != nil {
		p.LocalName = r.LocalZone.String()
	}
	return p
}

// passageData is what the script of a passage page moves the boats with: times
// in minutes since departure, everything rounded to what can be seen.
type passageData struct {
	Departure int64         `json:"dep"` // ms since the epoch
	EndMin    float64       `json:"end"`
	Plan      [][]float64   `json:"plan"`
	Base      [][]float64   `json:"base"`
	BaseName  string        `json:"baseName"`
	Words     []string      `json:"words"`
	Run       [][2]float64  `json:"run"`
	Actions   [][2]any      `json:"act"`
	Zone      [][2]float64  `json:"zone"` // from minute, offset in minutes
	ZoneName  string        `json:"zoneName"`
	Views     [][10]float64 `json:"views"`
	// Taken are the boxes of texts and marks on each view, where no barb goes.
	Taken [][][4]float64 `json:"taken"`
	Wind  *windData      `json:"wind"`
}

type windData struct {
	T   []float64   `json:"t"`
	Lon []float64   `json:"lon"`
	Lat []float64   `json:"lat"`
	U   [][]float64 `json:"u"`
	V   [][]float64 `json:"v"`
}

// missingWind stands for a missing place in the embedded wind.
const missingWind = -999

func round(x float64, dec int) float64 {
	p := math.Pow(10, float64(dec))
	return math.Round(x*p) / p
}

func newPassageData(r *PassageReport) passageData {
	minute := func(t time.Time) float64 { return round(t.Sub(r.Departure).Minutes(), 2) }
	d := passageData{Departure: r.Departure.UnixMilli(), BaseName: r.Baselines[0].Name}
	index := map[string]int{}
	word := func(s string) float64 {
		i, ok := index[s]
		if !ok {
			i = len(d.Words)
			index[s] = i
			d.Words = append(d.Words, s)
		}
		return float64(i)
	}
	foil := func(p Step, side string) string {
		e, k := p.PortExt, p.PortRakeDeg
		if side == "starboard" {
			e, k = p.StbdExt, p.StbdRakeDeg
		}
		return foilWords(e, k)
	}
	doing := func(p Step) string {
		if p.Resting && (p.Doing == "" || p.Doing == "sailing") {
			return "sailing, resting"
		}
		return p.Doing
	}
	rows := func(steps []Step) [][]float64 {
		out := make([][]float64, len(steps))
		for i, p := range steps {
			ext, _ := p.leeward()
			out[i] = []float64{
				minute(p.Time), round(p.LatDeg, 4), round(p.LonDeg, 4), round(p.BSPKn, 2), round(p.TWSKn, 1), round(p.TWADeg, 0),
				round(p.WindFromDeg, 0), round(p.HsM, 1), round(p.HeelDeg, 0), round(p.DistanceNM, 1), round(p.HeadingDeg, 0), round(ext, 2),
				word(p.Board), word(foil(p, "port")), word(foil(p, "starboard")), word(doing(p)), word(p.RuledBy), word(p.Sail),
				round(p.FoilLiftT, 1), round(p.BowImmersionsPerHour, 1),
				round(p.GustKn, 0), round(p.CurrentKn, 1), round(p.CurrentToDeg, 0), round(p.EffortKJ, 0),
			}
		}
		return out
	}
	d.Plan, d.Base = rows(r.Steps), rows(r.Baselines[0].Steps)
	d.EndMin = minute(r.Arrival)
	if n := len(r.Baselines[0].Steps); n > 0 {
		d.EndMin = math.Max(d.EndMin, r.Baselines[0].PassageTimeH*60)
	}
	for _, q := range r.Running {
		d.Run = append(d.Run, [2]float64{minute(q.Time), round(q.GainedMin, 1)})
	}
	for _, a := range r.Actions {
		d.Actions = append(d.Actions, [2]any{minute(a.Time), a.Side + ": " + a.Action + " → " + a.To})
	}
	if r.LocalZone != nil {
		d.ZoneName = r.LocalZone.String()
		last := math.Inf(1)
		for m := 0.0; m <= d.EndMin+60; m += 60 {
			_, off := r.Departure.Add(time.Duration(m) * time.Minute).In(r.LocalZone).Zone()
			if o := float64(off) / 60; o != last {
				d.Zone = append(d.Zone, [2]float64{m, o})
				last = o
			}
		}
	}
	if g := r.Wind; g != nil {
		d.Wind = &windData{Lon: roundAll(g.LonDeg, 3), Lat: roundAll(g.LatDeg, 3)}
		for k, t := range g.Times {
			d.Wind.T = append(d.Wind.T, minute(t))
			d.Wind.U = append(d.Wind.U, roundAll(g.UKn[k], 1))
			d.Wind.V = append(d.Wind.V, roundAll(g.VKn[k], 1))
		}
	}
	return d
}

func roundAll(xs []float64, dec int) []float64 {
	out := make([]float64, len(xs))
	for i, x := range xs {
		if math.IsNaN(x) {
			out[i] = missingWind
			continue
		}
		out[i] = round(x, dec)
	}
	return out
}

// Minute is a time in minutes since departure.
func (p *passagePage) Minute(t time.Time) float64 { return t.Sub(p.Departure).Minutes() }

// LocalTime is a time in the report's zone, or in UTC without one; the script
// replaces it when the reader chooses another zone.
func (p *passagePage) LocalTime(t time.Time) string {
	if p.LocalZone != nil {
		return t.In(p.LocalZone).Format("Mon 2 Jan 15:04") + " " + p.LocalName
	}
	return t.UTC().Format("Mon 2 Jan 15:04") + " UTC"
}
