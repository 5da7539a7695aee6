package strategy

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"sort"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"foilledger/route"
	"foilledger/vpp/units"
)

// HandAction is one action of a schedule given by hand.
type HandAction struct {
	Line int // in the file
	// One of Time, DistanceM and Place says when; the others are zero, NaN and
	// nil.
	Time      time.Time
	DistanceM float64
	Place     *orb.Point
	Side      Side
	Extension float64
	RakeRad   float64
	// SlowDown permits to slow the boat down for the action.
	SlowDown bool
}

// HandError says what is wrong with a schedule given by hand, and where.
type HandError struct {
	File   string
	Line   int
	Column string // its name in the header; empty for the line as a whole
	Msg    string
}

func (e *HandError) Error() string {
	s := fmt.Sprintf("%s:%d: ", e.File, e.Line)
	if e.Column != "" {
		s += "column " + e.Column + ": "
	}
	return s + e.Msg
}

var handColumns = []string{"time_utc", "distance_nm", "lat_deg", "lon_deg", "side", "extension", "rake_deg", "slow_down"}

// ReadHandSchedule reads a schedule from CSV with a header row. Each row names
// when (time_utc in RFC 3339, or distance_nm along the track, or lat_deg and
// lon_deg), the side (port or starboard), the extension (0 is in) and rake_deg,
// and, if wanted, slow_down (yes or no; yes when left out). name is for errors,
// which are of type *HandError.
func ReadHandSchedule(r io.Reader, name string) ([]HandAction, error) {
	rd := csv.NewReader(r)
	rd.TrimLeadingSpace = true
	fail := func(line int, column, format string, a ...any) error {
		return &HandError{File: name, Line: line, Column: column, Msg: fmt.Sprintf(format, a...)}
	}
	head, err := rd.Read()
	if err != nil {
		return nil, fail(1, "", "no header row: %v", err)
	}
	at := map[string]int{}
	for i, h := range head {
		h = strings.TrimSpace(strings.TrimPrefix(h, "\ufeff"))
		known := false
		for _, c := range handColumns {
			known = known || c == h
		}
		if !known {
			return nil, fail(1, h, "unknown column; known are %s", strings.Join(handColumns, ", "))
		}
		if _, twice := at[h]; twice {
			return nil, fail(1, h, "given twice")
		}
		at[h] = i
	}
	for _, c := range []string{"side", "extension"} {
		if _, ok := at[c]; !ok {
			return nil, fail(1, c, "missing")
		}
	}
	var out []HandAction
	for {
		row, err := rd.Read()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		var pe *csv.ParseError
		if errors.As(err, &pe) {
			return nil, fail(pe.Line, "", "%v", pe.Err)
		} else if err != nil {
			return nil, err
		}
		line, _ := rd.FieldPos(0)
		get := func(c string) string {
			if i, ok := at[c]; ok {
				return strings.TrimSpace(row[i])
			}
			return ""
		}
		number := func(c string, lo, hi float64) (float64, error) {
			x, err := strconv.ParseFloat(get(c), 64)
			if err != nil {
				return 0, fail(line, c, "%q is not a number", get(c))
			}
			if !(x >= lo && x <= hi) {
				return 0, fail(line, c, "%g: must be from %g to %g", x, lo, hi)
			}
			return x, nil
		}
		a := HandAction{Line: line, DistanceM: math.NaN(), SlowDown: true}
		ways := 0
		if s := get("time_utc"); s != "" {
			ways++
			if a.Time, err = time.Parse(time.RFC3339, s); err != nil {
				return nil, fail(line, "time_utc", "%q is not a time such as 2026-03-01T06:00:00Z", s)
			}
			a.Time = a.Time.UTC()
		}
		if get("distance_nm") != "" {
			ways++
			nm, err := number("distance_nm", 0, 1e5)
			if err != nil {
				return nil, err
			}
			a.DistanceM = nm * units.MPerNM
		}
		if get("lat_deg") != "" || get("lon_deg") != "" {
			ways++
			lat, err := number("lat_deg", -90, 90)
			if err != nil {
				return nil, err
			}
			lon, err := number("lon_deg", -180, 360)
			if err != nil {
				return nil, err
			}
			a.Place = &orb.Point{units.Wrap180(lon), lat}
		}
		if ways != 1 {
			return nil, fail(line, "", "give one of time_utc, distance_nm, or lat_deg with lon_deg; %d are given", ways)
		}
		switch get("side") {
		case "port":
			a.Side = Port
		case "starboard":
			a.Side = Starboard
		default:
			return nil, fail(line, "side", "%q: must be port or starboard", get("side"))
		}
		if a.Extension, err = number("extension", 0, 1); err != nil {
			return nil, err
		}
		if get("rake_deg") != "" {
			deg, err := number("rake_deg", -20, 20)
			if err != nil {
				return nil, err
			}
			a.RakeRad = units.Rad(deg)
		} else if a.Extension > 0 {
			return nil, fail(line, "rake_deg", "missing for a foil that is out")
		}
		switch get("slow_down") {
		case "", "yes":
		case "no":
			a.SlowDown = false
		default:
			return nil, fail(line, "slow_down", "%q: must be yes or no", get("slow_down"))
		}
		out = append(out, a)
	}
}

// RefusedError says why an action given by hand cannot be done.
type RefusedError struct {
	Line   int
	Reason string
}

func (e *RefusedError) Error() string { return fmt.Sprintf("line %d: refused: %s", e.Line, e.Reason) }

// ByHand sails the passage with a schedule given by hand: the actions are made
// where they are asked for, and priced as the plan's are. The problem returned
// has its stages cut there; the voyage and the log are of that problem. An
// error joins a *RefusedError for every action that cannot be done.
func (p *Problem) ByHand(actions []HandAction) (*Problem, *Voyage, *Log, error) {
	type placed struct {
		HandAction
		m       float64
		setting uint8
	}
	var list []placed
	var refused []error
	refuse := func(line int, format string, a ...any) {
		refused = append(refused, &RefusedError{line, fmt.Sprintf(format, a...)})
	}
	build := func() (*Problem, Schedule) {
		sort.SliceStable(list, func(i, j int) bool { return list[i].m < list[j].m })
		var cuts []float64
		for _, a := range list {
			cuts = append(cuts, a.m)
		}
		q := p.newProblem(p.track, p.DepartS, cuts)
		q.Start = p.Start
		sch := make(Schedule, q.Stages())
		i, st := 0, p.Start
		for k := range sch {
			l := &q.course.legs[k]
			for i < len(list) && list[i].m <= l.startM+shortestStageM {
				st = st.With(list[i].Side, list[i].setting)
				i++
			}
			sch[k] = st
		}
		return q, sch
	}
	for _, a := range actions {
		x := placed{HandAction: a, m: a.DistanceM}
		ok := false
		for i, f := range p.states.settings {
			if f.Extension == a.Extension && (a.Extension == 0 || math.Abs(f.RakeRad-a.RakeRad) < 1e-6) {
				x.setting, ok = uint8(i), true
			}
		}
		if !ok {
			refuse(a.Line, "the boat file has no setting with extension %g and rake %.2f°", a.Extension, units.Deg(a.RakeRad))
			continue
		}
		switch {
		case a.Place != nil:
			var off float64
			if x.m, off = nearest(p.track, *a.Place); off > p.opt.corridorM()/2 {
				refuse(a.Line, "the place is %.1f nautical miles off the track", off/units.MPerNM)
				continue
			}
		case !a.Time.IsZero():
			t := a.Time.Sub(p.wx.Reference()).Seconds()
			if t < p.DepartS {
				refuse(a.Line, "the time is before the departure")
				continue
			}
			q, sch := build()
			v, lg, err := q.Record(sch)
			if err != nil {
				return nil, nil, nil, err
			}
			if v.Status != Found || t >= v.ArriveS {
				refuse(a.Line, "the time is after the arrival")
				continue
			}
			x.m = lg.PlaceAt(t)
		}
		if x.m >= p.course.totalM-shortestStageM {
			refuse(a.Line, "the place is at or beyond the end of the track")
			continue
		}
		list = append(list, x)
	}
	q, sch := build()
	v, lg, err := q.Record(sch)
	if err != nil {
		return nil, nil, nil, err
	}
	if v.Status != Found && len(lg.Changes) == 0 {
		return q, v, lg, nil
	}
	for i := range list {
		a := &list[i]
		for j := range lg.Changes {
			c := &lg.Changes[j]
			if math.Abs(c.DistanceM-a.m) > 2*shortestStageM {
				continue
			}
			for _, part := range c.Price.Parts() {
				if part.Side == a.Side && !a.SlowDown && c.Pace.BSPMS > part.CeilingMS {
					refuse(a.Line, "%s of the %s foil has a ceiling of %.1f kn, the boat sails at %.1f kn then, and slow_down is no",
						part.Kind, part.Side, units.Knots(part.CeilingMS), units.Knots(c.Pace.BSPMS))
					break
				}
			}
			if j > 0 && c.TimeS < lg.Changes[j-1].TimeS+lg.Changes[j-1].Price.TimeS {
				refuse(a.Line, "the change before is not done yet: it takes %.0f s", lg.Changes[j-1].Price.TimeS)
			}
			l := &q.course.legs[c.Stage]
			if pc, b := q.paceIn(&l.steps[0], q.index(c.TimeS), q.states.Index(c.To)); pc != nil && pc.Held {
				lee, w := q.states.roles(c.To, b.relRad >= 0)
				rule := q.perf.At(lee, w, b.sea.condition(pc.TWARad, b.sea.windFromRad-pc.TWARad)).RuledBy
				if rule == "" {
					rule = "the boat's limits"
				}
				refuse(a.Line, "limit %q forbids the setting in %.0f kn of wind at %.0f° and %.1f m of sea", rule, units.Knots(pc.TWSMS), units.Deg(pc.TWARad), pc.HsM)
			}
		}
	}
	if len(refused) > 0 {
		return nil, nil, nil, errors.Join(refused...)
	}
	return q, v, lg, nil
}

// nearest finds the place on a track nearest to a point: how far along it is
// and how far off.
func nearest(t *route.Track, at orb.Point) (alongM, offM float64) {
	total := t.LengthM()
	lo, hi := 0.0, total
	for step := math.Max(total/2000, 500); ; step /= 10 {
		offM = math.Inf(1)
		for m := lo; ; m = math.Min(m+step, hi) {
			q, _ := t.At(m)
			if d, _, _ := route.Inverse(q, at); d < offM {
				alongM, offM = m, d
			}
			if m >= hi {
				break
			}
		}
		if step < 5 {
			return alongM, offM
		}
		lo, hi = math.Max(0, alongM-step), math.Min(total, alongM+step)
	}
}

// PlaceAt returns how far along the track the voyage is at time t.
func (lg *Log) PlaceAt(t float64) float64 {
	e := lg.Entries
	i := sort.Search(len(e), func(i int) bool { return e[i].EndS >= t })
	if i == len(e) {
		return e[i-1].StartM + e[i-1].LengthM
	}
	f := 0.0
	if e[i].EndS > e[i].StartS {
		f = math.Min(math.Max((t-e[i].StartS)/(e[i].EndS-e[i].StartS), 0), 1)
	}
	return e[i].StartM + f*e[i].LengthM
}
