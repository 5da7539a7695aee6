package strategy

import (
	"math/rand/v2"
	"testing"

	"foilledger/weather"
)

// fromZero is wind of which nothing is known before the forecast's first step.
type fromZero struct{ fakeWind }

func (f fromZero) At(lon, lat, t float64) (weather.Sample, error) {
	if t < 0 {
		return weather.Sample{}, &weather.CoverageError{Kind: weather.BeforeFirst, Variable: "wind", BeyondS: -t}
	}
	return f.fakeWind.At(lon, lat, t)
}

// A boat may depart at the first step of a forecast and change its foils then:
// a change to a slower state, during which she still goes on in the faster one,
// must not ask for the weather before.
func TestChangeAtFirstStep(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	ahead := 0
	for range 40 {
		wx := fromZero{fakeWind{mean: 3 + 12*r.Float64(), swing: 2, fromDeg: 360 * r.Float64(), turnDeg: 20, periodH: 20, hs: 0.5}}
		p := newFakeProblem(t, 2, 0, wx, 2, 30, 0.8, 0.4)
		p.DepartS = 0
		for s0 := range p.states.all {
			for s1 := range p.states.all {
				p.Start = p.states.all[s0]
				sch := make(Schedule, p.Stages())
				for i := range sch {
					sch[i] = p.states.all[s1]
				}
				v, _, err := p.Record(sch)
				if err != nil {
					t.Fatalf("%v to %v in %+v: %v", p.Start, sch[0], wx, err)
				}
				if v.Status == Found && v.Stages[0].Change.effectS < 0 {
					ahead++
				}
			}
		}
	}
	if ahead == 0 {
		t.Error("no change put the boat forward: the test shows nothing")
	}
}
