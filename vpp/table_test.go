package vpp

import (
	"bytes"
	"context"
	"encoding/gob"
	"errors"
	"math"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"foilledger/vpp/units"
)

// smallGrid is a grid that is built in a fraction of a second.
func smallGrid() Grid {
	g := Grid{HsM: []float64{0, 2}, VMS: surgeSpeeds()}
	for _, k := range []float64{0, 6, 10, 14, 18, 24} {
		g.TWSMS = append(g.TWSMS, units.MS(k))
	}
	for _, d := range []float64{0, 40, 60, 90, 120, 150, 180} {
		g.TWARad = append(g.TWARad, units.Rad(d))
	}
	return g
}

// tinyGrid is the least that has an inside on every axis.
func tinyGrid() Grid {
	g := smallGrid()
	g.HsM, g.TWSMS, g.TWARad = g.HsM[:1], g.TWSMS[2:4], g.TWARad[2:5]
	return g
}

// oneSetting is a boat with a single setting of its foils beside in.
func oneSetting(t testing.TB, name string) *Model {
	t.Helper()
	m := exampleBoat(t, name)
	if m.boat.Foils == nil {
		return m
	}
	b, f := *m.boat, *m.boat.Foils
	f.RakesRad, f.Extensions = []float64{units.Rad(3)}, []float64{1}
	b.Foils = &f
	m, err := NewModel(&b, NoFactors())
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func tableBytes(t *testing.T, tb *Table) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := gob.NewEncoder(&b).Encode(&tb.data); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestTableOnAnyNumberOfWorkers: the same bytes whoever does the work, in
// whatever order.
func TestTableOnAnyNumberOfWorkers(t *testing.T) {
	m, g := oneSetting(t, "small"), smallGrid()
	var first []byte
	for _, workers := range []int{1, 3} {
		tb, err := buildTable(context.Background(), m, g, nil, workers)
		if err != nil {
			t.Fatal(err)
		}
		if tb.Failed() != 0 {
			t.Errorf("%d workers: %d points failed", workers, tb.Failed())
		}
		b := tableBytes(t, tb)
		if first == nil {
			first = b
			continue
		}
		if !bytes.Equal(first, b) {
			t.Errorf("the table from %d workers differs from that of one", workers)
		}
	}
	if len(first) < 10000 {
		t.Errorf("the table has %d bytes: nothing was compared", len(first))
	}
}

// TestCancelBuild: once the context is cancelled no worker begins another point.
// A point takes a few milliseconds at most, so the build is over within 100 ms.
func TestCancelBuild(t *testing.T) {
	m, g := exampleBoat(t, "small"), smallGrid()
	row := len(g.HsM) * len(g.TWARad) // points of one row, done by one worker
	for _, workers := range []int{1, 2, 3} {
		ctx, cancel := context.WithCancel(context.Background())
		var calls, done, total atomic.Int64
		tb, err := buildTable(ctx, m, g, func(d, n int) {
			calls.Add(1)
			done.Store(int64(d))
			total.Store(int64(n))
			cancel() // after the first row
		}, workers)
		cancel()
		if !errors.Is(err, context.Canceled) {
			t.Errorf("%d workers: error %v, want cancelled", workers, err)
		}
		if tb != nil {
			t.Errorf("%d workers: a table came back from a cancelled build", workers)
		}
		// At most the rows that were under way when the first one ended.
		if d := int(done.Load()); d < row || d > row*workers || int(total.Load()) <= d {
			t.Errorf("%d workers: %d of %d points were done, want at most the %d of the rows under way", workers, d, total.Load(), row*workers)
		}
		if c := int(calls.Load()); c > workers {
			t.Errorf("%d workers: %d rows reported", workers, c)
		}
	}
	// Cancelled before it began: nothing is done.
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := buildTable(ctx, m, g, func(d, _ int) {
		if d > 0 {
			t.Errorf("%d points were done after cancelling", d)
		}
	}, 2); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want cancelled", err)
	}
	// A deadline is an error of its own kind.
	ctx, cancel = context.WithTimeout(context.Background(), time.Microsecond)
	defer cancel()
	if _, err := buildTable(ctx, m, g, nil, 2); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("error %v, want deadline exceeded", err)
	}
}

// TestCancelWithinAPoint counts the work of single points: it is what a
// cancelled build may still do, and bounds how long that takes.
func TestCancelWithinAPoint(t *testing.T) {
	m, g := exampleBoat(t, "big"), smallGrid()
	s := m.newSolver(g.VMS)
	worst := 0
	for i, f := range m.Boat().Settings() {
		for j, w := range g.TWSMS {
			e := s.Evaluations
			s.set(Condition{TWSMS: w, TWARad: g.TWARad[(i+j)%len(g.TWARad)], HsM: g.HsM[(i+j)%2]}, f, FoilSetting{})
			s.march(true)
			var st steadyState
			s.steady(&st, false)
			worst = max(worst, s.Evaluations-e)
		}
	}
	// An evaluation takes about 1 µs and preparing a speed 3 µs; 20000 of them
	// are well under 100 ms.
	if worst > 20000 {
		t.Errorf("one point took %d evaluations of the balances", worst)
	}
	t.Logf("greatest work at one point: %d evaluations", worst)
}

// TestCache: a kept table is read back as it was; a damaged, truncated or
// foreign file is computed afresh and replaced; another boat, grid or factor has
// another name.
func TestCache(t *testing.T) {
	m := exampleBoat(t, "none")
	g := tinyGrid()
	dir := filepath.Join(t.TempDir(), "below", "it")
	get := func(what string, wantKept bool) *Table {
		t.Helper()
		tb, kept, err := CachedTable(context.Background(), dir, m, g, nil)
		if err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		if kept != wantKept {
			t.Errorf("%s: kept = %v, want %v", what, kept, wantKept)
		}
		return tb
	}
	first := get("empty folder", false)
	want := tableBytes(t, first)
	second := get("kept", true)
	if !bytes.Equal(tableBytes(t, second), want) {
		t.Error("the table read back differs from the one written")
	}
	c := cond(13.3, 101, 0.7)
	a, _ := first.Speed(0, 0, c)
	if b, _ := second.Speed(0, 0, c); a != b || !(a > 3) {
		t.Errorf("speed %v from the table built, %v from the one read back", a, b)
	}
	files, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil || len(files) != 1 {
		t.Fatalf("files in the cache: %v, %v; want one", files, err)
	}
	path := files[0]
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	flipped := func(at int) []byte {
		b := bytes.Clone(good)
		b[at] ^= 0x10
		return b
	}
	for _, bad := range []struct {
		name string
		data []byte
	}{
		{"empty", nil},
		{"only the mark", good[:len(cacheMagic)]},
		{"truncated by one byte", good[:len(good)-1]},
		{"truncated in half", good[:len(good)/2]},
		{"with a byte too many", append(bytes.Clone(good), 0)},
		{"flipped in the mark", flipped(3)},
		{"flipped at the start", flipped(len(cacheMagic) + 5)},
		{"flipped in the middle", flipped(len(good) / 2)},
		{"flipped in the sum", flipped(len(good) - 3)},
		{"a text", []byte("not a table at all, but long enough to hold a mark and a sum: " + string(make([]byte, 100)))},
	} {
		if err := os.WriteFile(path, bad.data, 0o644); err != nil {
			t.Fatal(err)
		}
		tb := get(bad.name, false)
		if !bytes.Equal(tableBytes(t, tb), want) {
			t.Errorf("%s: the table computed afresh differs", bad.name)
		}
		if now, err := os.ReadFile(path); err != nil || !bytes.Equal(now, good) {
			t.Errorf("%s: the file was not replaced by a sound one (%v)", bad.name, err)
		}
	}
	// A sound file of another grid under this name: same sum, wrong contents.
	other := g
	other.HsM = []float64{1}
	small, err := BuildTable(context.Background(), m, other, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := writeTable(path, small); err != nil {
		t.Fatal(err)
	}
	get("table of another grid", false)
	if left, _ := filepath.Glob(filepath.Join(dir, ".*")); len(left) != 0 {
		t.Errorf("half-written files left behind: %v", left)
	}

	// The name follows everything that the table depends on.
	names := map[string]string{CacheKey(m, g): "itself"}
	differs := func(what string, m *Model, g Grid) {
		t.Helper()
		k := CacheKey(m, g)
		if was, ok := names[k]; ok {
			t.Errorf("%s has the cache name of %s", what, was)
		}
		names[k] = what
	}
	differs("another grid", m, other)
	differs("another boat", exampleBoat(t, "small"), g)
	f := NoFactors()
	f.HullDrag = 1.01
	heavier, err := NewModel(m.Boat(), f)
	if err != nil {
		t.Fatal(err)
	}
	differs("another factor", heavier, g)
	moved := *m.Boat()
	moved.Rig.SailSets = append([]SailSet(nil), moved.Rig.SailSets...)
	moved.Rig.SailSets[0].CEHeightM += 1e-9
	slightly, err := NewModel(&moved, NoFactors())
	if err != nil {
		t.Fatal(err)
	}
	differs("a boat with a sail a nanometre higher", slightly, g)
	eased := *m.Boat()
	eased.Handling.EasedPower += 1e-9
	looser, err := NewModel(&eased, NoFactors())
	if err != nil {
		t.Fatal(err)
	}
	differs("a boat whose sails are eased less", looser, g)
	crew := *m.Boat()
	crew.Name, crew.Handling.SustainedPowerW, crew.Handling.ReachPumpS = "another", 500, 5
	strong, err := NewModel(&crew, NoFactors())
	if err != nil {
		t.Fatal(err)
	}
	if CacheKey(strong, g) != CacheKey(m, g) {
		t.Error("the people on board change the cache name")
	}
	if CacheKey(exampleBoat(t, "none"), tinyGrid()) != CacheKey(m, g) {
		t.Error("the same boat and grid have two cache names")
	}
}

// TestCacheThatCannotBeWritten: the table comes back all the same, with an error
// that says so.
func TestCacheThatCannotBeWritten(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	g := tinyGrid()
	tb, kept, err := CachedTable(context.Background(), filepath.Join(file, "dir"), exampleBoat(t, "none"), g, nil)
	if tb == nil || kept || !errors.Is(err, ErrNotKept) {
		t.Errorf("table %v, kept %v, error %v; want a table and ErrNotKept", tb != nil, kept, err)
	}
}

// TestTableRefusesBadInput: NaN and infinities give a status, never a number.
func TestTableRefusesBadInput(t *testing.T) {
	m, g := oneSetting(t, "small"), tinyGrid()
	tb, err := BuildTable(context.Background(), m, g, nil)
	if err != nil {
		t.Fatal(err)
	}
	good := cond(12, 100, 0)
	if v, ok := tb.Speed(1, 0, good); !ok || !(v > 3) {
		t.Errorf("speed %v, %v in plain conditions", v, ok)
	}
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		for k := range 3 {
			c := good
			*[]*float64{&c.TWSMS, &c.TWARad, &c.HsM}[k] = bad
			if v, ok := tb.Speed(1, 0, c); ok || math.IsNaN(v) {
				t.Errorf("speed %v, ok %v for input %v in place %d", v, ok, bad, k)
			}
			if s := tb.At(1, 0, c); s.OK || math.IsNaN(s.BSPMS+s.HeelRad+s.FoilLiftN) {
				t.Errorf("steady state %+v for input %v in place %d", s, bad, k)
			}
			if a := tb.Accel(1, 0, PowerFull, c, 5); math.IsNaN(a) || math.IsInf(a, 0) {
				t.Errorf("acceleration %v for input %v in place %d", a, bad, k)
			}
			if _, st := m.Solve(c, FoilSetting{}, FoilSetting{}); st != BadInput {
				t.Errorf("status %v for input %v in place %d, want bad input", st, bad, k)
			}
		}
	}
	for _, g := range []Grid{
		{}, {TWSMS: []float64{5, 4}, TWARad: g.TWARad, HsM: g.HsM, VMS: g.VMS},
		{TWSMS: []float64{5, math.NaN()}, TWARad: g.TWARad, HsM: g.HsM, VMS: g.VMS},
		{TWSMS: g.TWSMS, TWARad: []float64{0, 1, 4}, HsM: g.HsM, VMS: g.VMS},
	} {
		if _, err := BuildTable(context.Background(), m, g, nil); err == nil {
			t.Errorf("grid %v was accepted", g)
		}
	}
}
