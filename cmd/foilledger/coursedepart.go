package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"time"

	"foilledger/route"
	"foilledger/strategy"
	"foilledger/vpp/units"
)

// departureRow is one departure of the comparison, as the searches find it.
type departureRow struct {
	departS float64
	arriveS float64 // +Inf without a course
	neverS  float64 // of the baseline on its own course
	why     string
}

// departureCount is the number of departures to compare.
func (fi *finder) departureCount(firstS float64) (int, error) {
	o := fi.o
	if o.untilTime.IsZero() {
		return 0, nil
	}
	last := o.untilTime.Sub(fi.field.Reference()).Seconds()
	if last < firstS {
		return 0, usage("give a time after the departure", "--depart-until %s is before the departure %s", o.untilTime.Format(time.RFC3339), timeAt(fi.field, firstS).Format(time.RFC3339))
	}
	n := int((last-firstS)/o.every.Seconds()+1e-9) + 1
	if n > 500 {
		return 0, usage("use a longer --depart-every", "%d departures to compare: at most 500", n)
	}
	return n, nil
}

// departures compares departures over the forecast's span, with a coarser mesh
// than the course itself.
func (fi *finder) departures(ctx context.Context, firstS float64) ([]departureRow, error) {
	o := *fi.o
	o.stages, o.across, o.rounds = min(o.stages, 40), min(o.across, 21), 5
	o.refineMin = math.Max(o.refineMin, 5)
	coarse := *fi
	coarse.o = &o
	coarse.pr = &progress{}
	done := fi.pr.start("departures")
	defer done()
	_, endS := fi.field.SpanS()
	n, err := fi.departureCount(firstS)
	if err != nil {
		return nil, err
	}
	withFoils, never := fi.sailor.NewFreeCourse(fi.free(false)), fi.held.NewFreeCourse(fi.free(true))
	var rows []departureRow
	for i := range n {
		fi.pr.set(i, n)
		d := departureRow{departS: firstS + float64(i)*o.every.Seconds(), arriveS: math.Inf(1), neverS: math.Inf(1)}
		if d.departS >= endS {
			break
		}
		for k, m := range []*strategy.FreeCourse{withFoils, never} {
			r, err := coarse.search(ctx, "", m, d.departS, nil)
			if err != nil {
				return nil, err
			}
			if r.Status != route.Found {
				d.why = "no course or forecast"
				if k == 1 {
					d.why = "baseline: no course"
				}
				break
			}
			if k == 0 {
				if d.arriveS = r.ArrivalS; !o.latestTime.IsZero() && timeAt(fi.field, d.arriveS).After(o.latestTime) {
					d.why = "arrives too late"
				}
			} else {
				d.neverS = r.ArrivalS
			}
		}
		rows = append(rows, d)
	}
	return rows, nil
}

func (d *departureRow) json(res *courseResult) departureJSON {
	j := departureJSON{Departure: timeAt(res.source, d.departS).Format(time.RFC3339), Note: d.why}
	hours := func(t float64) *float64 {
		if math.IsInf(t, 1) {
			return nil
		}
		h := (t - d.departS) / units.SPerHour
		return &h
	}
	j.PassageTimeH, j.NeverH = hours(d.arriveS), hours(d.neverS)
	if j.PassageTimeH != nil {
		j.Arrival = timeAt(res.source, d.arriveS).Format(time.RFC3339)
		if j.NeverH != nil {
			g := (d.neverS - d.arriveS) / 60
			j.GainMin = &g
		}
	}
	return j
}

// bestDepartures finds the departure that arrives first and the one with the
// shortest passage; −1 when none arrives.
func bestDepartures(rows []departureRow) (first, shortest int) {
	first, shortest = -1, -1
	for i := range rows {
		d := &rows[i]
		if math.IsInf(d.arriveS, 1) || d.why == "arrives too late" {
			continue
		}
		if first < 0 || d.arriveS < rows[first].arriveS {
			first = i
		}
		if shortest < 0 || d.arriveS-d.departS < rows[shortest].arriveS-rows[shortest].departS {
			shortest = i
		}
	}
	return first, shortest
}

func printDepartures(w io.Writer, res *courseResult) {
	if len(res.departures) == 0 {
		return
	}
	fmt.Fprintf(w, "\nDepartures compared (each the best course of a coarser search)\n\n")
	var rows [][]string
	first, shortest := bestDepartures(res.departures)
	stamp := func(t float64) string { return timeAt(res.source, t).Format("Jan 02 15:04") }
	for i := range res.departures {
		d := &res.departures[i]
		row := []string{stamp(d.departS), "-", "-", "-", "-", d.why}
		if !math.IsInf(d.arriveS, 1) {
			row[1], row[2] = stamp(d.arriveS), daysHours((d.arriveS-d.departS)/units.SPerHour)
			if !math.IsInf(d.neverS, 1) {
				row[3], row[4] = daysHours((d.neverS-d.departS)/units.SPerHour), fmt.Sprintf("%.0f", (d.neverS-d.arriveS)/60)
			}
		}
		switch i {
		case first:
			row[5] += " first"
		}
		if i == shortest {
			row[5] += " quickest"
		}
		rows = append(rows, row)
	}
	table(w, []string{"<departure", "<arrival", "with foils", "never out", "gained", "<"}, rows)
	fmt.Fprintf(w, "\ngained: minutes, over never putting them out on the best course for that;\nfirst: the earliest arrival; quickest: the shortest passage.\n")
}
