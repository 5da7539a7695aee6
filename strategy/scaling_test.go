//go:build unix

package strategy

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/paulmach/orb"

	"foilledger/plots"
	"foilledger/vpp/units"
)

// processorS is the processor time that the process has used: it does not count
// what others do on a busy machine.
func processorS(t *testing.T) float64 {
	var r syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &r); err != nil {
		t.Fatal(err)
	}
	return float64(r.Utime.Nano()+r.Stime.Nano()) / 1e9
}

// rakedBoat is the fake boat with so many rakes from 0 to 12.5°.
func rakedBoat(rakes int) *fakeBoat {
	b := newFakeBoat(rakes, 0)
	for i := range rakes {
		b.settings[1+i].RakeRad = units.Rad(12.5 * float64(i) / math.Max(float64(rakes-1), 1))
	}
	return b
}

// TestScaling measures the time of plans against the numbers of stages and of
// foil states and leaves table and charts in the folder that the environment
// variable FOILLEDGER_BENCH_OUT names; it is skipped without.
func TestScaling(t *testing.T) {
	dir := os.Getenv("FOILLEDGER_BENCH_OUT")
	if dir == "" {
		t.Skip("FOILLEDGER_BENCH_OUT names no folder for the measurements: skipped")
	}
	var table bytes.Buffer
	table.WriteString("plan,stages,foil_states,time_s\n")
	ctx := context.Background()
	rules := Person{RestS: 8 * 3600, NapS: 1800, SpacingS: 3600, EffortJ: 80e3}
	measure := func(rakes int, lon float64, person Person) (stages int, bestS float64) {
		sl, err := NewSailor(ctx, rakedBoat(rakes), fakeHandling(), fakeWind{mean: 9, swing: 4, fromDeg: 200, turnDeg: 70, periodH: 40, hs: 1.5},
			Options{StageM: 10 * units.MPerNM, RestLimits: RestLimits{MaxFoilLoadN: 9e3, GustFactor: 1.2}})
		if err != nil {
			t.Fatal(err)
		}
		track := mustTrack(orb.Point{-66, 42}, orb.Point{-66 + lon, 44})
		times := 5
		if person.any() {
			times = 2
		}
		bestS = math.Inf(1)
		for range times {
			p := sl.NewProblem(track, 0)
			from := processorS(t)
			if person.any() {
				p = p.For(person)
			}
			if _, err := p.BestFor(ctx, nil, nil); err != nil {
				t.Fatal(err)
			}
			bestS = math.Min(bestS, processorS(t)-from)
			stages = p.Stages()
		}
		name := "without rules"
		if person.any() {
			name = "rest; spacing; effort"
		}
		fmt.Fprintf(&table, "%s,%d,%d,%.4f\n", name, stages, (rakes+1)*(rakes+1), bestS)
		return stages, bestS
	}
	note := "Least processor time of several runs, speed tables ready; stages of 10 nautical miles. The longest track is 3000 nautical miles."
	byStages := &plots.ScalingData{Name: "plan-time-stages", Title: "Time of a plan against the number of stages", Size: "stages", Note: note}
	for _, c := range []struct {
		label  string
		rakes  int
		person Person
	}{{"16 foil states", 3, Person{}}, {"49 foil states", 6, Person{}}} {
		l := plots.ScalingLine{Label: c.label}
		for _, lon := range []float64{8, 17.4, 34.8, 52.5, 70.2} {
			n, s := measure(c.rakes, lon, c.person)
			l.Size, l.TimeS = append(l.Size, float64(n)), append(l.TimeS, s)
		}
		byStages.Lines = append(byStages.Lines, l)
	}
	ruled := &plots.ScalingData{Name: "plan-time-rules", Title: "Time of a plan under rest, spacing and effort", Size: "stages", Note: note}
	l := plots.ScalingLine{Label: "49 foil states"}
	for _, lon := range []float64{8, 17.4, 34.8, 70.2} {
		n, s := measure(6, lon, rules)
		l.Size, l.TimeS = append(l.Size, float64(n)), append(l.TimeS, s)
	}
	ruled.Lines = append(ruled.Lines, l)
	byStates := &plots.ScalingData{Name: "plan-time-states", Title: "Time of a plan against the number of foil states", Size: "foil states", Note: note}
	l = plots.ScalingLine{}
	for rakes := 1; rakes <= 9; rakes += 2 {
		n, s := measure(rakes, 70.2, Person{})
		l.Label = fmt.Sprintf("%d stages", n)
		l.Size, l.TimeS = append(l.Size, square(float64(rakes+1))), append(l.TimeS, s)
	}
	byStates.Lines = append(byStates.Lines, l)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "plan-time.csv"), table.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, d := range []*plots.ScalingData{byStages, ruled, byStates} {
		c, err := plots.ScalingChart(d)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := c.SVG(&b, plots.Wide); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, c.Name+".svg"), b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("\n%s", table.String())
}
