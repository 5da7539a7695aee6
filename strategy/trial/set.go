package trial

import (
	"context"
	"fmt"
	"math"
	"time"
)

// Len returns the number of weathers.
func (s *Set) Len() int { return len(s.list) }

// Name returns the name of weather i.
func (s *Set) Name(i int) string { return s.list[i].name }

// Departure returns the time of departure in weather i.
func (s *Set) Departure(i int) time.Time { return s.list[i].depart }

// Open returns weather i, made if need be.
func (s *Set) Open(ctx context.Context, i int) (*Weather, error) {
	e := &s.list[i]
	s.mu.Lock()
	o := s.opened[e.truth]
	if o == nil {
		o = &opened{}
		s.opened[e.truth] = o
		s.order = append(s.order, e.truth)
		if len(s.order) > keepOpen {
			delete(s.opened, s.order[0])
			s.order = s.order[1:]
		}
	}
	s.mu.Unlock()
	o.once.Do(func() { o.truth, o.field, o.err = e.open(ctx) })
	if o.err != nil {
		return nil, fmt.Errorf("%s: %w", e.name, o.err)
	}
	w := &Weather{Name: e.name, DepartS: e.depart.Sub(o.truth.Reference()).Seconds(), Truth: o.truth, Field: o.field}
	w.Issues = e.issues(o.field, w.DepartS)
	return w, nil
}

// BlockFor returns how many of n departures in a row share weather when they are
// everyS apart and a passage takes passageS seconds; 1 when every weather is its
// own.
func BlockFor(everyS, passageS float64, n int) int {
	if everyS <= 0 || n < 2 {
		return 1
	}
	return max(1, min(n/2, int(math.Ceil(passageS/everyS))))
}

// SetError says what is wrong with the options of a set.
type SetError struct{ Msg, Hint string }

func (e *SetError) Error() string { return e.Msg }

func wrong(hint, format string, a ...any) error { return &SetError{fmt.Sprintf(format, a...), hint} }
