package plots

import (
	"fmt"
	"image/color"
	"math"
	"reflect"
)

// Pairs is a quantity of which positive values are gains, for every pair of two
// choices.
type Pairs struct {
	Title                 string
	RowLabel, ColumnLabel string // what the choices are, with units
	Rows, Columns         []string
	Values                [][]float64 // by row and column
}

// PairsChart draws a cell for every pair, the first row on top, its fill and its
// number the value.
func PairsChart(name string, d *Pairs) (Chart, error) {
	if err := finite("Pairs", reflect.ValueOf(*d), ""); err != nil {
		return Chart{}, err
	}
	if len(d.Rows) == 0 || len(d.Columns) == 0 || len(d.Values) != len(d.Rows) {
		return Chart{}, fieldErr("Pairs.Values", "has %d rows for %d choices, and %d columns", len(d.Values), len(d.Rows), len(d.Columns))
	}
	most := 0.0
	c := Chart{Name: name, Title: d.Title, Alt: fmt.Sprintf("%s by %s and %s:", d.Title, d.RowLabel, d.ColumnLabel)}
	for i, row := range d.Values {
		if len(row) != len(d.Columns) {
			return Chart{}, fieldErr(fmt.Sprintf("Pairs.Values[%d]", i), "has %d values for %d columns", len(row), len(d.Columns))
		}
		for j, v := range row {
			most = math.Max(most, math.Abs(v))
			c.Alt += fmt.Sprintf(" %s and %s %s;", d.Rows[i], d.Columns[j], signedNumber(v, 1))
		}
	}
	c.tall, c.tallNarrow = 110+30*float64(len(d.Rows)), 120+34*float64(len(d.Rows))
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		room := 0.0
		for _, r := range d.Rows {
			room = math.Max(room, extent(letTick, 0, 0, r, left, bottom).w())
		}
		b := box{marginTop + room + 10, s.box.y0 + xAxisRoom, s.box.x1 - marginR, y - yTitleRoom + 4}
		nx, ny := len(d.Columns), len(d.Rows)
		xa, ya := axis{min: -0.5, max: float64(nx) - 0.5, title: d.ColumnLabel}, axis{min: -0.5, max: float64(ny) - 0.5, title: d.RowLabel}
		w, h := b.w()/float64(nx), b.h()/float64(ny)
		for j, v := range d.Columns {
			xa.ticks = append(xa.ticks, tick{v: float64(j), label: fitted(letTick, v, w-4)})
		}
		for i, v := range d.Rows {
			ya.ticks = append(ya.ticks, tick{v: float64(ny - 1 - i), label: v})
		}
		p := newPanel(b, xa, ya)
		for i := range ny {
			for j := range nx {
				cb := box{b.x0 + float64(j)*w, b.y1 - float64(i+1)*h, b.x0 + float64(j+1)*w, b.y1 - float64(i)*h}
				v := d.Values[i][j]
				col := signed(v / math.Max(most, 1e-9))
				s.fillBox(cb, col)
				s.frame(strokeGrid, cb)
				cellNumber(s, cb, col, v)
			}
		}
		p.drawAxes(s, true)
	}
	return c, nil
}

// cellNumber writes a value into its cell, as finely as there is room.
func cellNumber(s *sheet, cb box, fill color.Color, v float64) {
	for _, size := range []float64{sizeLabel, sizeTick, sizeSmall, 7.5} {
		for _, dec := range []int{1, 0} {
			l := lettering{size: size, col: readableOn(fill)}
			x, y := (cb.x0+cb.x1)/2, (cb.y0+cb.y1)/2
			if extent(l, x, y, signedNumber(v, dec), centre, middle).w() < cb.w()-3 {
				s.text(l, x, y, signedNumber(v, dec), centre, middle)
				return
			}
		}
	}
}
