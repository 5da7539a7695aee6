package strategy_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"foilledger/plots"
	"foilledger/route"
	"foilledger/strategy"
)

// BenchmarkCourseGrowth grows one dimension of the search at a time: stages,
// places across, states. Where the environment variable FOILLEDGER_BENCH_OUT
// names a folder, the times are written there as course-growth.csv and drawn in
// course-growth.svg.
func BenchmarkCourseGrowth(b *testing.B) {
	sl, err := ocean()
	if err != nil {
		b.Fatal(err)
	}
	all := sl.Leeward(8)
	type point struct {
		dimension     string
		size, times   float64 // against the smallest
		edges         int
		secondsPerRun float64
	}
	base := struct{ stages, across, settings int }{25, 31, 2}
	var points []point
	for _, dim := range []string{"stages", "across", "states"} {
		for _, times := range []int{1, 2, 4} {
			c := base
			switch dim {
			case "stages":
				c.stages *= times
			case "across":
				c.across = times*(c.across-1) + 1
			case "states":
				c.settings = min(c.settings*times, len(all))
			}
			m := sl.NewFreeCourse(strategy.FreeOptions{Leeward: all[1:c.settings]})
			// A mesh as wide as it is long, all edges within 75° and the fan.
			o := route.Options{Stages: c.stages, Lateral: c.across, Fan: 10, MaxRounds: 1, HalfWidthM: 300e3}
			oceanSearch(b, m, 3000, o) // fills the tables
			p := point{dimension: dim, times: float64(times)}
			b.Run(fmt.Sprintf("%s/stages=%d/across=%d/states=%d", dim, c.stages, c.across, m.States()), func(b *testing.B) {
				for b.Loop() {
					r := oceanSearch(b, m, 3000, o)
					p.edges = r.Rounds[0].Edges
				}
				p.secondsPerRun = b.Elapsed().Seconds() / float64(b.N)
				b.ReportMetric(float64(p.edges), "edges/op")
			})
			switch dim {
			case "stages":
				p.size = float64(c.stages)
			case "across":
				p.size = float64(c.across)
			default:
				p.size = float64(m.States())
			}
			points = append(points, p)
		}
	}
	dir := os.Getenv("FOILLEDGER_BENCH_OUT")
	if dir == "" {
		return
	}
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	_ = w.Write([]string{"dimension", "size", "edges", "search_s"}) // to memory
	chart := &plots.LineChart{Title: "Cost of one search for a course, each dimension grown on its own", XLabel: "times the smallest", YLabel: "search (s)", LogX: true, LogY: true}
	for _, p := range points {
		_ = w.Write([]string{p.dimension, strconv.FormatFloat(p.size, 'f', 0, 64), strconv.Itoa(p.edges), strconv.FormatFloat(p.secondsPerRun, 'g', 4, 64)})
		if p.secondsPerRun <= 0 {
			continue // left out by the pattern of the run
		}
		n := len(chart.Lines)
		if n == 0 || chart.Lines[n-1].Name != p.dimension {
			chart.Lines = append(chart.Lines, plots.Line{Name: p.dimension})
			n++
		}
		l := &chart.Lines[n-1]
		l.X, l.Y = append(l.X, p.times), append(l.Y, p.secondsPerRun)
	}
	w.Flush()
	if err := os.WriteFile(filepath.Join(dir, "course-growth.csv"), out.Bytes(), 0o644); err != nil {
		b.Fatal(err)
	}
	c, err := plots.LinesChart("course-growth", chart)
	if err != nil {
		b.Fatal(err)
	}
	if _, err := plots.WriteFiles(dir, []plots.Chart{c}, "svg"); err != nil {
		b.Fatal(err)
	}
}
