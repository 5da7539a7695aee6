package plots

import (
	"fmt"
	"strings"
	"unicode"
)

// PageTable is a table of words and numbers on a page; its first column names
// the row. Columns of numbers stand to the right, also where some cells are
// empty, unless the column's name begins with "<".
type PageTable struct {
	Caption string
	Head    []string
	Rows    [][]string
	Note    string // optional, below
}

// validate refuses rows that are not as long as the head.
func (t PageTable) validate(name string) error {
	for k, row := range t.Rows {
		if len(row) != len(t.Head) {
			return fieldErr(fmt.Sprintf("%s.Rows[%d]", name, k), "has %d cells for %d columns", len(row), len(t.Head))
		}
	}
	return nil
}

// Names are the columns' names as shown.
func (t PageTable) Names() []string {
	var n []string
	for _, h := range t.Head {
		n = append(n, strings.TrimPrefix(h, "<"))
	}
	return n
}

// Left says which columns stand to the left: the first, those marked, and those
// in which a cell does not begin like a number.
func (t PageTable) Left() []bool {
	l := make([]bool, len(t.Head))
	for i, h := range t.Head {
		l[i] = i == 0 || strings.HasPrefix(h, "<")
		for _, row := range t.Rows {
			l[i] = l[i] || !numeric(row[i])
		}
	}
	return l
}

// numeric reports whether a cell begins like a number; an empty one and a dash
// do.
func numeric(cell string) bool {
	cell = strings.TrimLeft(cell, "+-−–±< ")
	return cell == "" || unicode.IsDigit([]rune(cell)[0])
}

// Words reports whether a column of words is so long that it must wrap.
func (t PageTable) Words() bool {
	for _, row := range t.Rows {
		for _, c := range row[1:] {
			if len(c) > 40 {
				return true
			}
		}
	}
	return false
}
