package rulecard

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"foilledger/route"
	"foilledger/strategy"
	"foilledger/strategy/internal/plainboat"
	"foilledger/testdata/validation"
	"foilledger/vpp"
	"foilledger/vpp/units"
)

// stepBoat gains a fifth with its foils out from 8 m/s of wind on and loses a
// tenth below; more rake helps only above 12 m/s.
var stepBoat = plainboat.Boat{RakesRad: []float64{0, units.Rad(2)}, BSP: func(l, _ int, c vpp.Condition) (float64, bool) {
	v := 8.0
	if l > 0 {
		v *= 0.9
		if c.TWSMS >= 8 {
			v = 9.6
		}
		if l == 2 {
			v *= 0.95
			if c.TWSMS >= 12 {
				v *= 1.1
			}
		}
	}
	return v, l == 0 || c.TWSMS < 20
}}

// passages are tracks across the wind in winds that go up and down slowly.
func passages(t testing.TB, n int, seed uint64) []*Passage {
	t.Helper()
	ctx := context.Background()
	tr, err := route.NewTrack([]orb.Point{{-30, 45}, {-16, 45}})
	if err != nil {
		t.Fatal(err)
	}
	base, err := strategy.NewSailor(ctx, stepBoat, plainboat.Handling(), nil, strategy.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var out []*Passage
	for i := range n {
		r := rand.New(rand.NewPCG(seed, uint64(i)))
		mean, swing, phase, period := 7+4*r.Float64(), 2+4*r.Float64(), 2*math.Pi*r.Float64(), (14+20*r.Float64())*3600
		wind := plainboat.Northerly(func(t float64) float64 { return math.Max(1, mean+swing*math.Sin(phase+2*math.Pi*t/period)) })
		p, ok, err := NewPassage(ctx, fmt.Sprint(i), func() (*strategy.Problem, error) { return base.In(wind).NewProblem(tr, 0), nil })
		if err != nil || !ok {
			t.Fatalf("passage %d: %v %v", i, ok, err)
		}
		p.Group = i
		out = append(out, p)
	}
	return out
}

func TestFit(t *testing.T) {
	ctx := context.Background()
	train, test := passages(t, 8, 1), passages(t, 8, 2)
	opt := Options{Rules: 4, Beyond: -1, Workers: 1}
	steps, err := Fit(ctx, train, opt, nil)
	if err != nil {
		t.Fatal(err)
	}
	again, err := Fit(ctx, passages(t, 8, 1), Options{Rules: 4, Beyond: -1, Workers: 3}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(steps) != len(again) || len(steps) < 3 {
		t.Fatalf("%d steps with 1 worker, %d with 3", len(steps), len(again))
	}
	for i := range steps {
		if d := cmp.Diff(steps[i].Card, again[i].Card, cmp.AllowUnexported(Rule{})); d != "" {
			t.Errorf("%d rules, 1 worker and 3: %s", i+1, d)
		}
		if i > 0 && steps[i].EstimateS > steps[i-1].EstimateS {
			t.Errorf("%d rules lose %.1f s, %d rules %.1f s", i+1, steps[i].EstimateS, i, steps[i-1].EstimateS)
		}
	}
	var best Score
	for i, s := range steps {
		var fs []Followed
		for _, p := range append(append([]*Passage{}, test...), train...) {
			f, err := p.Try(ctx, s.Card)
			if err != nil {
				t.Fatal(err)
			}
			if !(f.LostS() >= -1e-6) {
				t.Errorf("%d rules beat the exact plan of passage %s by %g s", i+1, p.Name, -f.LostS())
			}
			fs = append(fs, f)
		}
		best = Total(fs[:len(test)])
	}
	for i, s := range steps {
		for _, b := range Boxes(train, s.Card) {
			if b.Setting != 0 && (b.Share == 0 || math.IsInf(b.BreakEvenS, 1)) {
				t.Errorf("%d rules: a box puts the foils out where that never pays: %+v", i+1, b)
			}
		}
	}
	cut := steps[1].Card
	edge := 0.0
	for _, r := range cut.Rules {
		edge = math.Max(edge, r.TWSMS.From)
	}
	validation.Band(t, validation.Row{Package: "strategy/rulecard", ID: "cut-of-two-rules", Quantity: "wind at which a card of two rules puts the foils out, for a boat that gains from 8 m/s on",
		Got: edge, Unit: "m/s", Source: "closed form of the boat; the price of changes moves the cut by some knots", Kind: validation.Analytic}, 7, 9.5)
	validation.Band(t, validation.Row{Package: "strategy/rulecard", ID: "regret-unseen", Quantity: "share of the time that foils gain lost by a card of four rules, in winds that it was not fitted to, for a boat of three bands",
		Got: best.RegretShare(), Source: "the bands need three rules, the rest is the price of not knowing what comes", Kind: validation.Behaviour}, 0, 0.06)
	cross, err := CrossValidated(ctx, train, opt, nil)
	if err != nil || len(cross) != 4 {
		t.Fatalf("cross validation: %v, %v", cross, err)
	}
	if n := Choose(cross, 30); n < 2 {
		t.Errorf("%d rules chosen of %v", n, cross)
	}
	// The estimate of the fit is close to the truth.
	for _, p := range train[:3] {
		e, err := p.estimate(steps[2].Card)
		if err != nil {
			t.Fatal(err)
		}
		f, err := p.Try(ctx, steps[2].Card)
		if err != nil || !(math.Abs(e-f.TimeS) <= 0.01*f.TimeS) {
			t.Errorf("passage %s: estimated %.0f s, followed %.0f s, %v", p.Name, e, f.TimeS, err)
		}
	}
	boxes := Boxes(train, steps[2].Card)
	share := 0.0
	for _, b := range boxes {
		share += b.Share
	}
	if !(math.Abs(share-1) <= 1e-9) {
		t.Errorf("the shares of the boxes sum to %g", share)
	}
	if _, err := Handlings(ctx, train, steps[2].Card); err != nil {
		t.Error(err)
	}
}

// Every condition falls under one rule, and a card read back says the same.
func TestCardCoversAndReadsBack(t *testing.T) {
	g := grid{step: [axes]float64{units.MS(1), units.Rad(5), 0.5}}
	settings := stepBoat.Settings()
	rapid.Check(t, func(rt *rapid.T) {
		root := &node{}
		for range rapid.IntRange(0, 8).Draw(rt, "cuts") {
			ls, _ := g.leaves(root)
			l := ls[rapid.IntRange(0, len(ls)-1).Draw(rt, "leaf")]
			axis := rapid.IntRange(0, axes-1).Draw(rt, "axis")
			at := rapid.IntRange(1, 35).Draw(rt, "at")
			if at <= l.from[axis] || at >= l.to[axis] {
				continue
			}
			a := func() Advice {
				a := adviceOf(uint8(rapid.IntRange(0, 2*len(settings)-1).Draw(rt, "advice")))
				if a.Setting != 0 {
					a.ByWind = rapid.Bool().Draw(rt, "by wind")
					a.Far = uint8(rapid.IntRange(1, len(settings)-1).Draw(rt, "far"))
					a.ByWind = a.ByWind && a.Far != a.Setting
				}
				return a
			}
			l.node.axis, l.node.at = axis, at
			l.node.lo, l.node.hi = &node{advice: a()}, &node{advice: a()}
		}
		base := Card{Settings: settings, TWSMarginMS: units.MS(1), TWAMarginRad: units.Rad(5), HoldS: 1800, LimitMarginMS: units.MS(2)}
		c, ok := g.card(root, &base)
		if !ok {
			rt.Fatal("a cut leaves nothing")
		}
		var b bytes.Buffer
		if err := c.WriteTOML(&b, "drawn"); err != nil {
			rt.Fatal(err)
		}
		r, name, err := ReadTOML(b.Bytes(), "c.toml", settings)
		if err != nil || name != "drawn" {
			rt.Fatalf("%v, name %q\n%s", err, name, b.String())
		}
		for range 20 {
			tws := units.MS(rapid.Float64Range(0, 60).Draw(rt, "tws"))
			twa := units.Rad(rapid.Float64Range(0, 180).Draw(rt, "twa"))
			hs := rapid.Float64Range(0, 20).Draw(rt, "hs")
			n := 0
			for i := range c.Rules {
				q := &c.Rules[i]
				if q.TWSMS.holds(tws, 0) && q.TWARad.holds(twa, 0) && q.HsM.holds(hs, 0) {
					n++
				}
			}
			if n != 1 {
				rt.Fatalf("%d rules hold %g m/s, %g rad, %g m", n, tws, twa, hs)
			}
			edge := false // numbers in the file are rounded
			for i := range c.Rules {
				for _, x := range []float64{c.Rules[i].TWSMS.From - tws, c.Rules[i].TWARad.From - twa} {
					edge = edge || math.Abs(x) < 1e-5
				}
			}
			p, q := c.find(tws, twa, hs), r.find(tws, twa, hs)
			if !edge && (p.Advice != q.Advice || p.At(tws, twa) != q.At(tws, twa)) {
				rt.Fatalf("%v, read back %v at %g m/s, %g rad, %g m\n%s", p, q, tws, twa, hs, b.String())
			}
		}
	})
}

func TestDecide(t *testing.T) {
	inf := math.Inf(1)
	c := &Card{Settings: stepBoat.Settings(), TWSMarginMS: 1, TWAMarginRad: 0.1, HoldS: 1800, Rules: []Rule{
		{TWSMS: Span{0, 8}, TWARad: Span{0, inf}, HsM: Span{0, inf}},
		{TWSMS: Span{8, inf}, TWARad: Span{0, 1}, HsM: Span{0, inf}, Advice: Advice{Setting: 1, Far: 1, Both: true}},
		{TWSMS: Span{8, inf}, TWARad: Span{1, inf}, HsM: Span{0, inf}, Advice: Advice{Setting: 2, Far: 2}},
	}}
	all := func(uint8) bool { return true }
	in := strategy.State{}
	lee := strategy.State{Port: 2}
	for _, x := range []struct {
		name string
		s    seen
		want strategy.State
	}{
		{"out with the wind", seen{twsMS: 9, twaRad: 2, now: in, sinceS: inf, allowed: all}, lee},
		{"in below the edge", seen{twsMS: 7.5, twaRad: 2, now: in, sinceS: inf, allowed: all}, in},
		{"stays out within the margin", seen{twsMS: 7.5, twaRad: 2, now: lee, sinceS: inf, allowed: all}, lee},
		{"in beyond the margin", seen{twsMS: 6.9, twaRad: 2, now: lee, sinceS: inf, allowed: all}, in},
		{"held after a change", seen{twsMS: 6.9, twaRad: 2, now: lee, sinceS: 60, allowed: all}, lee},
		{"a limit does not wait", seen{twsMS: 9, twaRad: 2, now: lee, sinceS: 60, allowed: func(l uint8) bool { return l == 0 }}, in},
		{"both by the rule", seen{twsMS: 9, twaRad: 0.5, now: in, sinceS: inf, allowed: all}, strategy.State{Port: 1, Starboard: 1}},
		{"both on a beat", seen{twsMS: 9, twaRad: 2, zigzag: true, now: in, sinceS: inf, allowed: all}, strategy.State{Port: 2, Starboard: 2}},
		{"a tack does not wait", seen{twsMS: 9, twaRad: 2, leeward: strategy.Starboard, now: lee, sinceS: 60, allowed: all}, strategy.State{Starboard: 2}},
	} {
		if got := c.decide(&x.s); got != x.want {
			t.Errorf("%s: %+v, want %+v", x.name, got, x.want)
		}
	}
}

func TestReadMistakes(t *testing.T) {
	for _, x := range []struct{ text, want string }{
		{"card = \"a\"\n", "at least one [[rule]]"},
		{"[[rule]]\nextension = 0\n", "name is missing"},
		{"card = \"a\"\nhold = 3\n[[rule]]\n", "c.toml:2: unknown key hold"},
		{"card = \"a\"\nhold_min = -1\n[[rule]]\n", "hold_min: -1: must be from 0 to 1440"},
		{"card = \"a\"\nhold_min = nan\n[[rule]]\n", "hold_min: NaN"},
		{"card = \"a\"\n[[rule]]\ntws_kn = [9, 3]\n", "rule 1: tws_kn: want two rising numbers"},
		{"card = \"a\"\n[[rule]]\nextension = 1\nrake_deg = 9\n", "rule 1: the boat has no setting with extension 1 and rake 9°"},
		{"card = \"a\"\n[[rule]]\nextension = 1\nwindward = \"up\"\n", "windward: \"up\": must be in, or same"},
		{"card = ", "c.toml:1"},
	} {
		_, _, err := ReadTOML([]byte(x.text), "c.toml", stepBoat.Settings())
		if err == nil || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%q: %v, want %q", x.text, err, x.want)
		}
	}
}

func TestFitNeedsPassages(t *testing.T) {
	if _, err := Fit(context.Background(), nil, Options{}, nil); err == nil {
		t.Error("no passages: no error")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Fit(ctx, passages(t, 1, 1), Options{}, nil); err == nil {
		t.Error("cancelled: no error")
	}
}

func TestRakeAlongTheBox(t *testing.T) {
	b := plainboat.Boat{RakesRad: []float64{0, units.Rad(1), units.Rad(2), units.Rad(3)}}
	rule := func(near, far uint8, byWind bool, twaFrom, twaTo float64) *Rule {
		r := &Rule{TWSMS: Span{10, 16}, TWARad: Span{units.Rad(twaFrom), units.Rad(twaTo)}, Advice: Advice{Setting: near, Far: far, ByWind: byWind}}
		r.taper(b.Settings())
		return r
	}
	for _, x := range []struct {
		name   string
		r      *Rule
		tws    float64
		twaDeg float64
		want   uint8
	}{
		{"one rake", rule(2, 2, false, 80, 120), 12, 119, 2},
		{"at the lower angle", rule(4, 1, false, 80, 120), 12, 81, 4},
		{"a quarter on", rule(4, 1, false, 80, 120), 12, 91, 3},
		{"at the upper angle", rule(4, 1, false, 80, 120), 12, 119, 1},
		{"beyond the box", rule(4, 1, false, 80, 120), 12, 150, 1},
		{"from 40° on", rule(1, 4, false, 0, 80), 12, 45, 1},
		{"from 40° on, half way", rule(1, 4, false, 0, 80), 12, 61, 3},
		{"up to 160°", rule(1, 2, false, 120, 180), 12, 141, 2},
		{"least wind", rule(4, 2, true, 80, 120), 10.5, 119, 4},
		{"most wind", rule(4, 2, true, 80, 120), 15.5, 81, 2},
	} {
		if got := x.r.At(x.tws, units.Rad(x.twaDeg)); got != x.want {
			t.Errorf("%s: setting %d, want %d", x.name, got, x.want)
		}
	}
	r := rule(4, 1, false, 80, 120) // 10° each
	for _, x := range []struct {
		setting uint8
		twaDeg  float64
		want    bool
	}{{4, 85, true}, {4, 94, true}, {4, 96, false}, {3, 86, true}, {3, 84, false}, {0, 85, false}} {
		if got := r.follows(x.setting, 12, units.Rad(x.twaDeg), 0, units.Rad(5)); got != x.want {
			t.Errorf("setting %d at %g° within 5°: %v", x.setting, x.twaDeg, got)
		}
	}
}

func TestRakeComesOffAtLimits(t *testing.T) {
	c := &Card{Settings: plainboat.Boat{RakesRad: []float64{0, units.Rad(1), units.Rad(2)}}.Settings(),
		Rules: []Rule{{TWSMS: Span{0, math.Inf(1)}, TWARad: Span{0, math.Inf(1)}, HsM: Span{0, math.Inf(1)}, Advice: Advice{Setting: 3, Far: 3, Both: true}}}}
	for most, want := range []strategy.State{{}, {Port: 1, Starboard: 1}, {Port: 2, Starboard: 2}, {Port: 3, Starboard: 3}} {
		s := seen{twsMS: 9, twaRad: 2, sinceS: math.Inf(1), now: strategy.State{Port: 3, Starboard: 3}, allowed: func(l uint8) bool { return int(l) <= most }}
		if got := c.decide(&s); got != want {
			t.Errorf("settings up to %d allowed: %+v, want %+v", most, got, want)
		}
	}
}

// The cutting into boxes is the best there is: no other one of all trees with so
// few leaves costs less in steady sailing.
func TestPartitionIsTheBest(t *testing.T) {
	f := &fitter{ctx: context.Background(), ps: passages(t, 2, 9), settings: stepBoat.Settings()}
	f.g.step = [axes]float64{2, units.Rad(30), 0.5}
	q, err := newPartition(f, 4)
	if err != nil {
		t.Fatal(err)
	}
	var brute func(x0, x1, y0, y1, n int) float64
	brute = func(x0, x1, y0, y1, n int) float64 {
		best := q.box(x0, x1, y0, y1).cost
		for k := 1; k < n; k++ {
			for x := x0 + 1; x < x1; x++ {
				best = math.Min(best, brute(x0, x, y0, y1, k)+brute(x, x1, y0, y1, n-k))
			}
			for y := y0 + 1; y < y1; y++ {
				best = math.Min(best, brute(x0, x1, y0, y, k)+brute(x0, x1, y, y1, n-k))
			}
		}
		return best
	}
	last := math.Inf(1)
	for n := 1; n <= 4; n++ {
		want := brute(0, len(q.xs)-1, 0, len(q.ys)-1, n)
		got := float64(q.cost[n-1][q.at(0, len(q.xs)-1, 0, len(q.ys)-1)])
		if !(math.Abs(got-want) <= 1e-6*want) {
			t.Errorf("%d boxes: %.1f s, of all trees %.1f s", n, got, want)
		}
		if got > last {
			t.Errorf("%d boxes cost %g s, one less %g s", n, got, last)
		}
		last = got
		if leaves, ok := f.g.leaves(q.tree(n)); !ok || len(leaves) > n {
			t.Errorf("%d boxes asked for: %d, %v", n, len(leaves), ok)
		}
	}
}

// The causes sum to the loss, and the present alone neither beats the exact plan
// nor falls far behind it in weather that changes slowly.
func TestLossesAndPresent(t *testing.T) {
	ctx := context.Background()
	ps := passages(t, 4, 3)
	steps, err := Fit(ctx, ps[:2], Options{Rules: 2, Beyond: -1}, nil)
	if err != nil {
		t.Fatal(err)
	}
	var now []Followed
	for _, p := range ps {
		card := steps[len(steps)-1].Card
		f, err := p.Try(ctx, card)
		if err != nil {
			t.Fatal(err)
		}
		by, err := p.Losses(ctx, card)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, c := range Causes {
			sum += by[c]
			delete(by, c)
		}
		if len(by) > 0 || !(math.Abs(sum-f.LostS()) <= 1e-6*f.TimeS) {
			t.Errorf("passage %s: causes sum to %g s of %g s, %d not listed", p.Name, sum, f.LostS(), len(by))
		}
		n, err := p.TryPresent(ctx)
		if err != nil {
			t.Fatal(err)
		}
		if !n.Arrived || !(n.LostS() >= -1e-6) {
			t.Errorf("passage %s: the present alone loses %g s", p.Name, n.LostS())
		}
		now = append(now, n)
	}
	validation.Band(t, validation.Row{Package: "strategy/rulecard", ID: "present-alone", Quantity: "share of the time that foils gain lost by the best that the present alone allows, in winds of periods of half a day and more",
		Got: Total(now).RegretShare(), Source: "a change costs minutes and the wind changes over hours", Kind: validation.Behaviour}, 0, 0.05)
}
