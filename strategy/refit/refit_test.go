package refit

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"

	"foilledger/route"
	"foilledger/strategy"
	"foilledger/testdata/validation"
	"foilledger/vpp"
	"foilledger/vpp/units"
	"foilledger/weather"
)

func smallBoat(t testing.TB) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "boats", "small.toml"))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// turning is wind that turns and swings, the same everywhere.
type turning struct{ phase float64 }

func (w turning) At(_, _, tS float64) (weather.Sample, error) {
	v := 8 + 3*math.Sin(w.phase+2*math.Pi*tS/(9*3600))
	from := 2*math.Pi*tS/(60*3600) + w.phase
	return weather.Sample{U: -v * math.Sin(from), V: -v * math.Cos(from), HsM: 1}, nil
}
func (turning) Reference() time.Time      { return time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC) }
func (turning) SpanS() (float64, float64) { return math.Inf(-1), math.Inf(1) }

// tables makes tables on a grid of few points, and each only once.
func tables() func(context.Context, *vpp.Boat, vpp.Factors, vpp.Grid) (*vpp.Table, error) {
	g := vpp.Grid{HsM: []float64{1}, VMS: vpp.DefaultGrid().VMS}
	for _, kn := range []float64{0, 8, 16, 26} {
		g.TWSMS = append(g.TWSMS, units.MS(kn))
	}
	for _, deg := range []float64{0, 50, 90, 135, 180} {
		g.TWARad = append(g.TWARad, units.Rad(deg))
	}
	var mu sync.Mutex
	made := map[string]*vpp.Table{}
	return func(ctx context.Context, b *vpp.Boat, f vpp.Factors, _ vpp.Grid) (*vpp.Table, error) {
		m, err := vpp.NewModel(b, f)
		if err != nil {
			return nil, err
		}
		mu.Lock()
		defer mu.Unlock()
		key := vpp.CacheKey(m, g)
		if made[key] == nil {
			t, err := vpp.BuildTable(ctx, m, g, nil)
			if err != nil {
				return nil, err
			}
			made[key] = t
		}
		return made[key], nil
	}
}

func study(t testing.TB, changes ...string) (*Study, []Variant) {
	t.Helper()
	text := smallBoat(t)
	base, err := vpp.LoadBoat(text, "small.toml")
	if err != nil {
		t.Fatal(err)
	}
	// A coarser list of rakes keeps the tables small.
	base.Foils.RakesRad = []float64{units.Rad(2), units.Rad(4)}
	s := &Study{Names: []string{"as she is"}, Boats: []*vpp.Boat{base}, Table: tables(), Passages: 3, Workers: 1}
	var vs []Variant
	for _, c := range changes {
		v := Variant{Name: c}
		if c != "" {
			if v.Changes, err = ParseChanges(c + ",foils.rake_grid_deg=[2,4]"); err != nil {
				t.Fatal(err)
			}
		}
		b := base
		if c != "" {
			if b, err = v.Build(text, "small.toml", DefaultGrowth); err != nil {
				t.Fatal(err)
			}
			v.Changes = v.Changes[:len(v.Changes)-1]
		}
		vs = append(vs, v)
		s.Names, s.Boats = append(s.Names, c), append(s.Boats, b)
	}
	tr, err := route.NewTrack([]orb.Point{{-30, 45}, {-24, 46}})
	if err != nil {
		t.Fatal(err)
	}
	s.Problem = func(_ context.Context, i int, sl *strategy.Sailor) (*strategy.Problem, error) {
		return sl.In(turning{float64(i) * 2}).NewProblem(tr, 0), nil
	}
	return s, vs
}

func run(t testing.TB, s *Study) []Record {
	t.Helper()
	var out []Record
	for j := range s.Jobs() {
		r, err := s.Job(context.Background(), j)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, r)
	}
	return out
}

func TestCompare(t *testing.T) {
	s, vs := study(t, "", "pump=cockpit", "pump=below", "handling.sustained_power_w=160", "handling.sustained_power_w=220", "foils.mass_kg=240", "foils.mass_kg=320")
	records := run(t, s)
	c := s.Compare(records, Sampling{Seed: 1})
	if c.Passages != 3 || len(c.LeftOut) != 0 {
		t.Fatalf("%d passages, left out %v", c.Passages, c.LeftOut)
	}
	for i := range c.Variants {
		v := &c.Variants[i]
		sum := 0.0
		for _, it := range v.Ledger {
			sum += it.GainS
		}
		if !(math.Abs(sum-v.Gain) <= 1e-6) {
			t.Errorf("%s: the ledger sums to %g, the gain is %g", v.Name, sum, v.Gain)
		}
		for k, g := range v.Gains() {
			switch i {
			case 0, 1: // the base boat, and the same boat again
				if g != 0 {
					t.Errorf("%q: passage %d gains %g over the same boat", v.Name, k, g)
				}
			case 2, 4, 5: // cheaper changes never make the exact plan later
				if !(g >= -1e-6) {
					t.Errorf("%s: passage %d is slower by %g min", v.Name, k, -g)
				}
			case 3:
				if !(g <= 1e-6) {
					t.Errorf("%s: passage %d is faster by %g min", v.Name, k, g)
				}
			}
		}
	}
	if len(c.Variants[1].Ledger) != 0 || c.Variants[1].Interval.Lo != 0 || c.Variants[1].Interval.Hi != 0 {
		t.Errorf("the same boat: ledger %v, interval %v", c.Variants[1].Ledger, c.Variants[1].Interval)
	}
	power := c.Marginals(vs, "handling.sustained_power_w")
	mass := c.Marginals(vs, "foils.mass_kg")
	if len(power) != 1 || len(mass) != 1 || power[0].From != 160 || power[0].To != 220 {
		t.Fatalf("marginals %v, %v", power, mass)
	}
	validation.Band(t, validation.Row{Package: "strategy/refit", ID: "marginal-power", Quantity: "minutes gained per passage and watt of the person",
		Got: power[0].MinPerUnit, Unit: "min/W", Source: "a stronger person is never slower: sign only", Kind: validation.Behaviour}, 0, 10)
	validation.Band(t, validation.Row{Package: "strategy/refit", ID: "marginal-mass", Quantity: "minutes gained per passage and kilogram of each foil",
		Got: mass[0].MinPerUnit, Unit: "min/kg", Source: "a heavier foil of the same shape slows the boat: sign only", Kind: validation.Behaviour}, -10, 0)
	if c.Variants[6].AddedKg != 160 {
		t.Errorf("foils of 240 kg add %g kg", c.Variants[6].AddedKg)
	}
	s.Workers = 3
	if d := cmp.Diff(records[1:3], []Record{mustJob(t, s, 1), mustJob(t, s, 2)}); d != "" {
		t.Errorf("1 worker and 3: %s", d)
	}
}

func mustJob(t testing.TB, s *Study, j int) Record {
	t.Helper()
	r, err := s.Job(context.Background(), j)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestSamples(t *testing.T) {
	s, _ := study(t, "", "foils.mass_kg=240")
	s.Samples = Factors(2, 5)
	s.SamplePassages = 2
	records := run(t, s)
	c := s.Compare(records, Sampling{Seed: 1})
	if c.SamplePassages != 2 || len(c.Variants[2].Samples) != 2 {
		t.Fatalf("%d passages, samples %v", c.SamplePassages, c.Variants[2].Samples)
	}
	for _, g := range c.Variants[1].Samples {
		if g != 0 {
			t.Errorf("the same boat gains %g in a sample", g)
		}
	}
	if c.CoarseErrorMin != 0 { // the test's tables are the same
		t.Errorf("coarse error %g", c.CoarseErrorMin)
	}
}

func TestFactors(t *testing.T) {
	const n = 400
	fs := Factors(n, 3)
	if d := cmp.Diff(fs, Factors(n, 3)); d != "" {
		t.Error(d)
	}
	for k, r := range vpp.FactorRanges() {
		within := 0
		for _, f := range fs {
			if x := f.Values()[k]; x >= r.Low && x <= r.High {
				within++
			}
		}
		if share := float64(within) / n; !(math.Abs(share-0.9) <= 0.011) { // a hypercube misses by one stratum at each end
			t.Errorf("%s: %.3f of the samples lie in the range, want 0.9", r.Name, share)
		}
	}
}

// A gain that is a straight line in the factors is found exactly.
func TestEffects(t *testing.T) {
	fs := Factors(16, 9)
	var gains []float64
	ranges := vpp.FactorRanges()
	for _, f := range fs {
		x := f.Values()
		gains = append(gains, 3+2*scoreOf(ranges[0], x[0])-scoreOf(ranges[3], x[3]))
	}
	es, centre, fit := effects(fs, gains)
	if len(es) != len(ranges) {
		t.Fatalf("%d effects", len(es))
	}
	for _, q := range []struct {
		id        string
		got, want float64
	}{{"effect-high", es[0].HiMin, 2 * ninety}, {"effect-low", es[3].LowMin, ninety}, {"effect-none", es[5].HiMin, 0}, {"centre", centre, 3}, {"explained", fit, 1}} {
		validation.Check(t, validation.Row{Package: "strategy/refit", ID: q.id, Quantity: "effects of factors from samples of a linear gain", Got: q.got, Want: q.want, Tol: 1e-9,
			Source: "the line that made the samples", Kind: validation.Analytic})
	}
	// Gains of mere chance are not explained.
	rng := rand.New(rand.NewPCG(1, 2))
	mean := 0.0
	for range 200 {
		for i := range gains {
			gains[i] = rng.NormFloat64()
		}
		_, _, fit := effects(fs, gains)
		mean += fit / 200
	}
	validation.Band(t, validation.Row{Package: "strategy/refit", ID: "explained-chance", Quantity: "share of the variance explained of gains that do not hang on the factors, 16 samples",
		Got: mean, Unit: "1", Source: "the share is cut at 0, so that its mean lies above", Kind: validation.Analytic}, 0, 0.2)
	if es, _, _ := effects(fs[:11], gains[:11]); es != nil {
		t.Error("effects from eleven samples of six factors")
	}
}

// A box of a hull, for which everything is known in closed form.
func TestWeigh(t *testing.T) {
	const l, b, draft, cg, root, added = 12.0, 3.0, 0.5, 0.2, 0.4, 600.0
	w := vpp.WaterDensity * l * b * draft
	base := &vpp.Boat{Hull: vpp.Hull{DisplacementKg: w, WaterplaneAreaM2: l * b, DraftM: draft, CGHeightM: cg, BowFreeboardM: 1.5}, Foils: &vpp.Foils{MassKg: 100, RootZM: root}}
	base.Hull.GMM = draft/2 + b*b/(12*draft) - (draft + cg)
	doc := map[string]any{"hull": map[string]any{}, "foils": map[string]any{}}
	v := Variant{Changes: []Change{{"foils.mass_kg", 100.0 + added/2}}}
	if err := v.weigh(doc, base, DefaultGrowth); err != nil {
		t.Fatal(err)
	}
	h := doc["hull"].(map[string]any)
	deeper := (w + added) / (vpp.WaterDensity * l * b)
	kg := (w*(draft+cg) + added*(draft+root)) / (w + added)
	for _, q := range []struct {
		id   string
		want float64
	}{{"displacement_kg", w + added}, {"draft_m", deeper}, {"cg_height_m", kg - deeper}, {"metacentric_height_m", deeper/2 + b*b/(12*deeper) - kg}, {"bow_freeboard_m", 1.5 - (deeper - draft)}} {
		got, _ := h[q.id].(float64)
		validation.Check(t, validation.Row{Package: "strategy/refit", ID: "box-" + q.id, Quantity: q.id + " of a box hull after heavier foils", Got: got, Want: q.want, Tol: 1e-9 * q.want,
			Source: "box: KB = T/2, BM = B²/(12 T)", Kind: validation.Analytic})
	}
	validation.Check(t, validation.Row{Package: "strategy/refit", ID: "mass-similar", Quantity: "mass of a foil twice as large in every direction", Got: DefaultGrowth.MassKg(1, 4, 2),
		Want: math.Pow(4, 0.806) * 2, Tol: 1e-12, Source: "Raymer, Aircraft Design: A Conceptual Approach, weight of a transport wing (from memory)", Kind: validation.Published})
}

func TestBuild(t *testing.T) {
	text := smallBoat(t)
	base, err := vpp.LoadBoat(text, "small.toml")
	if err != nil {
		t.Fatal(err)
	}
	build := func(changes string) (*vpp.Boat, error) {
		cs, err := ParseChanges(changes)
		if err != nil {
			return nil, err
		}
		return (&Variant{Name: "v", Changes: cs}).Build(text, "small.toml", DefaultGrowth)
	}
	same, err := (&Variant{Name: "v"}).Build(text, "small.toml", DefaultGrowth)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(base, same); d != "" {
		t.Errorf("no change: %s", d)
	}
	b, err := build("foils.area_m2=1.8, foils.span_m=3, foils.extension_steps=[0.5,1], rig.sail_set[0].main_area_m2=55")
	if err != nil {
		t.Fatal(err)
	}
	want := 160 * math.Pow(1.8/1.45, 0.806) * 3 / 2.6
	if !(math.Abs(b.Foils.MassKg-want) <= 0.05) || len(b.Foils.Extensions) != 2 || b.Rig.SailSets[0].MainAreaM2 != 55 {
		t.Errorf("mass %g, want %g; extensions %v; main %g", b.Foils.MassKg, want, b.Foils.Extensions, b.Rig.SailSets[0].MainAreaM2)
	}
	if d := b.Hull.DisplacementKg - base.Hull.DisplacementKg - 2*(b.Foils.MassKg-160); !(math.Abs(d) <= 1e-9) {
		t.Errorf("displacement off by %g", d)
	}
	if d := units.TonnesForce(b.Limits.MaxFoilLoadN) - 5.2*1.8/1.45; !(math.Abs(d) <= 1e-6) {
		t.Errorf("the limit of the load is off by %g tf", d)
	}
	if b, err = build("foils.area_m2=1.8, limits.max_foil_load_tf=6"); err != nil || !(math.Abs(units.TonnesForce(b.Limits.MaxFoilLoadN)-6) <= 1e-9) {
		t.Errorf("the limit of the load that a variant gives: %v", err)
	}
	for changes, want := range map[string][]float64{
		"foils.max_rake_deg=3":                         {0, 1, 2, 3},
		"foils.max_rake_deg=6.5":                       {0, 1, 2, 3, 4, 5, 6, 6.5},
		"foils.min_rake_deg=-1.5,foils.max_rake_deg=2": {-1.5, -1, 0, 1, 2},
		"foils.max_rake_deg=6,foils.rake_grid_deg=[2]": {2},
	} {
		b, err := build(changes)
		if err != nil {
			t.Errorf("%s: %v", changes, err)
			continue
		}
		var got []float64
		for _, r := range b.Foils.RakesRad {
			got = append(got, math.Round(units.Deg(r)*1e6)/1e6)
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%s: rakes %s", changes, d)
		}
	}
	if b, err = build("pump=below"); err != nil || b.Handling.ReachPumpS != pumpBelowS {
		t.Errorf("pump below: %v", err)
	}
	for _, x := range []struct{ changes, want string }{
		{"foils.area_m=1.8", "unknown key (did you mean area_m2?)"},
		{"foil.area_m2=1.8", "the boat file has no section foil"},
		{"foils.area_m2=-1", "is -1, must be from 0.05 to 20"},
		{"foils.rake_grid_deg=[0,9]", "outside the rake limits"},
		{"rig.sail_set[99].main_area_m2=50", "no section sail_set[99]"},
		{"pump=mast", "variant \"v\" of small.toml: pump: is mast (cockpit or below)"},
		{"foils.area_m2", "want key=value"},
		{"foils.area_m2=nan", "not a finite number"},
		{"foils.extension_steps=[0.5,x]", "not a list of numbers"},
		{"foils.area_m2=1,foils.area_m2=2", "given twice"},
	} {
		_, err := build(x.changes)
		if err == nil || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%s: %v, want %q", x.changes, err, x.want)
		}
	}
}

func TestReadVariants(t *testing.T) {
	vs, sweeps, err := ReadVariants([]byte("[[variant]]\nname = \"longer\"\nshort = \"L\"\nchanges = { \"foils.span_m\" = 3, pump = \"below\" }\n"+
		"[[sweep]]\nkey = \"foils.extension_steps\"\nvalues = [[1], [0.5, 1]]\n"), "v.toml")
	want := []Variant{{Name: "longer", Short: "L", Changes: []Change{{"foils.span_m", 3.0}, {"pump", "below"}}}}
	if d := cmp.Diff(want, vs); d != "" || err != nil {
		t.Errorf("%v: %s", err, d)
	}
	if d := cmp.Diff([]Sweep{{"foils.extension_steps", []any{[]any{1.0}, []any{0.5, 1.0}}}}, sweeps); d != "" {
		t.Error(d)
	}
	for _, x := range []struct{ text, want string }{
		{"", "at least one [[variant]]"},
		{"[[variant]]\nnam = \"a\"\n", "v.toml:2: unknown key variant.nam"},
		{"[[variant]]\nchanges = {}\n", "name is missing"},
		{"[[variant]]\nname = \"a\"\n[[variant]]\nname = \"a\"\n", "used twice"},
		{"[[variant]]\nname = \"a\"\nchanges = { foils = { span_m = 3 } }\n", "write dotted keys in quotes"},
		{"[[variant]]\nname = \"a\"\nshort = \"much too long for a table\"\n", "at most 18 characters"},
		{"[[variant]]\nname = \"a\"\nshort = \"x\"\n[[variant]]\nname = \"b\"\nshort = \"x\"\n", "short \"x\" is used twice"},
		{"[[variant]\n", "v.toml:1"},
		{"[[sweep]]\nvalues = [1]\n", "sweep 1: key is missing"},
		{"[[sweep]]\nkey = \"a\"\n", "sweep 1: sweep of a: there is no value"},
		{"[[sweep]]\nkey = \"a\"\nvalues = [2, 1]\n", "the values must rise"},
		{"[[sweep]]\nkey = \"a\"\nvalues = [true]\n", "want numbers, lists of numbers or words"},
	} {
		_, _, err := ReadVariants([]byte(x.text), "v.toml")
		var ve *vpp.FileError
		if !errors.As(err, &ve) || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%q: %v, want %q", x.text, err, x.want)
		}
	}
}

// The dimensions that designers ask for: each as a change, as a variant of a file
// and as a sweep, with the same boat and the value in the key's unit.
func TestDimensions(t *testing.T) {
	text := smallBoat(t)
	for _, x := range []struct {
		key, value string // as on the command line and in TOML
		label      string
		of         func(*vpp.Boat) float64
		want       float64 // SI
	}{
		{"foils.area_m2", "1.8", "1.8 m²", func(b *vpp.Boat) float64 { return b.Foils.AreaM2 }, 1.8},
		{"foils.span_m", "3", "3 m", func(b *vpp.Boat) float64 { return b.Foils.SpanM }, 3},
		{"foils.dihedral_deg", "36", "36 °", func(b *vpp.Boat) float64 { return b.Foils.DihedralRad }, units.Rad(36)},
		{"foils.extension_steps", "[0.5,1]", "0.5 1", func(b *vpp.Boat) float64 { return b.Foils.Extensions[0] }, 0.5},
		{"foils.rake_grid_deg", "[2,4]", "2 4 °", func(b *vpp.Boat) float64 { return b.Foils.RakesRad[1] }, units.Rad(4)},
		{"foils.max_rake_deg", "7", "7 °", func(b *vpp.Boat) float64 { return b.Foils.RakesRad[len(b.Foils.RakesRad)-1] }, units.Rad(7)},
		{"foils.mass_kg", "200", "200 kg", func(b *vpp.Boat) float64 { return b.Hull.DisplacementKg }, 7680},
		{PumpKey, "cockpit", "cockpit", func(b *vpp.Boat) float64 { return b.Handling.ReachPumpS }, pumpCockpitS},
		{"handling.sustained_power_w", "160", "160 W", func(b *vpp.Boat) float64 { return b.Handling.SustainedPowerW }, 160},
		{"limits.max_foil_load_tf", "6", "6 tf", func(b *vpp.Boat) float64 { return b.Limits.MaxFoilLoadN }, 6 * units.G * 1000},
	} {
		change, err := ParseVariant(x.key + "=" + x.value)
		if err != nil {
			t.Errorf("%s: %v", x.key, err)
			continue
		}
		sweep, err := ParseSweep(x.key + "=" + x.value)
		if err != nil {
			t.Errorf("%s: %v", x.key, err)
			continue
		}
		inTOML := x.value
		if x.key == PumpKey {
			inTOML = `"cockpit"`
		}
		vs, sweeps, err := ReadVariants([]byte(fmt.Sprintf("[[variant]]\nname = \"v\"\nchanges = { %q = %s }\n[[sweep]]\nkey = %q\nvalues = [%s]\n", x.key, inTOML, x.key, inTOML)), "v.toml")
		if err != nil {
			t.Errorf("%s: %v", x.key, err)
			continue
		}
		vs = append(append(append(vs, change), Variants([]Sweep{sweep})...), Variants(sweeps)...)
		if l := Labels(vs[2:3], []string{x.key}); l[0] != x.label {
			t.Errorf("%s: label %q, want %q", x.key, l[0], x.label)
		}
		for i := range vs {
			b, err := vs[i].Build(text, "small.toml", DefaultGrowth)
			if err != nil {
				t.Errorf("%s, way %d: %v", x.key, i, err)
				continue
			}
			if got := x.of(b); !(math.Abs(got-x.want) <= 1e-9*x.want) {
				t.Errorf("%s, way %d: %g, want %g", x.key, i, got, x.want)
			}
		}
	}
}

func TestParseSweep(t *testing.T) {
	for _, x := range []struct {
		text string
		want []any
	}{
		{"foils.area_m2=1.2:2.0:0.2", []any{1.2, 1.4, 1.6, 1.8, 2.0}},
		{"a=3, 4,7", []any{3.0, 4.0, 7.0}},
		{"pump=cockpit,below", []any{"cockpit", "below"}},
		{"foils.extension_steps=[1],[0.5,1]", []any{[]any{1.0}, []any{0.5, 1.0}}},
	} {
		s, err := ParseSweep(x.text)
		if d := cmp.Diff(x.want, s.Values); d != "" || err != nil {
			t.Errorf("%s: %v %s", x.text, err, d)
		}
	}
	for bad, want := range map[string]string{
		"a": "want key=from:to:step", "=1:2:1": "want key=from:to:step", "a=": "want key=from:to:step", "a=2:1:1": "is not from:to:step", "a=1:2:0": "is not from:to:step",
		"a=1:2": "is not from:to:step", "a=1:1e9:0.1": "at most 200 steps", "a=x:y:z": "is not from:to:step", "a=2,1": "must rise", "a=inf": "not a finite number",
		"a=1,b": "b a word", "a=b,b": "b is given twice", "a=[1],[1]": "[1] is given twice", "a=[1": "does not end with ]",
	} {
		if _, err := ParseSweep(bad); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", bad, err, want)
		}
	}
	vs := Variants([]Sweep{{"a", []any{1.0, 2.0}}, {"b", []any{3.0, 4.0}}})
	if len(vs) != 4 || vs[3].Name != "a=2, b=4" || len(vs[3].Changes) != 2 {
		t.Errorf("%+v", vs)
	}
}

func TestLabels(t *testing.T) {
	change := func(s string) Variant {
		v, err := ParseVariant(s)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	long := "foils.area_m2=1.8,foils.span_m=2.9"
	vs := []Variant{change(long), change("A: pump=below"), change("pump=cockpit"), change(long + ",pump=below")}
	vs = append(vs, Variants([]Sweep{{"foils.area_m2", []any{1.2}}, {"foils.dihedral_deg", []any{24.0}}})...)
	vs[3].Short = "big"
	if d := cmp.Diff([]string{"B", "A", "pump cockpit", "big", "1.2 m², 24 °"}, Labels(vs, []string{"foils.area_m2", "foils.dihedral_deg"}, "B2")); d != "" {
		t.Error(d)
	}
	for _, x := range []struct{ got, want string }{
		{vs[0].Legend("B"), "foil area 1.8 m², foil span 2.9 m"},
		{vs[1].Legend("A"), "pump below"},
		{vs[2].Legend("pump cockpit"), ""},
		{(&Variant{Name: "the same boat"}).Legend("same"), "the same boat: no change"},
		{Change{"foils.extension_steps", []any{0.5, 1.0}}.Words(), "foil extension steps 0.5 1"},
		{Change{"handling.sustained_power_w", 120.0}.Words(), "power 120 W"},
		{Change{"handling.rake_work_kj_per_deg", 2.0}.Words(), "rake work 2 kJ/°"},
	} {
		if x.got != x.want {
			t.Errorf("%q, want %q", x.got, x.want)
		}
	}
	many := make([]Variant, 30)
	for i := range many {
		many[i].Name = strings.Repeat("long ", 5) + string(rune('a'+i))
	}
	l := Labels(many, nil)
	if l[25] != "Z" || l[26] != "AA" || l[29] != "AD" {
		t.Error(l)
	}
}

func TestPareto(t *testing.T) {
	got := Pareto([]float64{0, 5, 4, 5}, []float64{0, 3, 3, 2})
	if d := cmp.Diff([]bool{true, false, false, true}, got); d != "" {
		t.Error(d)
	}
}
