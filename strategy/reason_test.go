package strategy

import (
	"math"
	"testing"
)

func TestReasonWords(t *testing.T) {
	none := math.NaN()
	for _, c := range []struct {
		a    Alternatives
		want string
	}{
		{Alternatives{WithoutS: 594, EarlierS: 60, LaterS: 54},
			"gains 9.9 min over leaving it as it is; gains 1.0 min over an hour earlier; gains 0.9 min over an hour later"},
		{Alternatives{WithoutS: 7500, EarlierS: 12, LaterS: -7},
			"gains 2 h 05 min over leaving it as it is; level with an hour earlier or later"},
		{Alternatives{WithoutS: none, WithoutBar: BarRest, EarlierS: -120, LaterS: none, LaterBar: BarRest},
			"the old setting could not be left alone, which leaves too little rest; costs 2.0 min against an hour earlier; an hour later: too little rest"},
		{Alternatives{WithoutHeld: true, EarlierS: none, EarlierBar: BarRest, LaterS: none, LaterBar: BarRest},
			"a limit forbids the old setting before the next change; an hour earlier or later: too little rest"},
		{Alternatives{WithoutS: none, EarlierS: none, LaterS: none},
			"no rival to compare with inside the forecast"},
	} {
		if got := c.a.Reason(); got != c.want {
			t.Errorf("got  %q\nwant %q", got, c.want)
		}
	}
}
