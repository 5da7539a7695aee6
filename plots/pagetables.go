package plots

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// keyNumbers are the three numbers that answer first.
func (p *passagePage) keyNumbers() []KeyNumber {
	b := p.Baselines[0]
	over := "over: " + b.Name
	if p.GainLowMin != 0 || p.GainHighMin != 0 {
		over += fmt.Sprintf("; %s to %s in %s", gain(p.GainLowMin), gain(p.GainHighMin), p.SpreadScope())
	}
	return []KeyNumber{
		{"Time gained", gain(b.TimeGainedMin), over},
		{"Changes", fmt.Sprint(len(p.Occasions)), plural(len(p.Actions), "action", "actions") + " at the foils in all"},
		{"Gap to the bound", span(math.Ceil(p.BoundGapMin)), "no schedule on this track beats the plan by more"},
	}
}

// occasion is a moment of the schedule with all that is done then.
type occasion struct {
	Time     time.Time
	Place    Place
	Actions  []numberedAction
	LostS    float64
	EffortKJ float64
	Night    bool
	Reason   string
	Speed    string // whether and how to slow down
	Then     string // what comes after it
}

// numberedAction is an action with its number on the map.
type numberedAction struct {
	Action
	Number int
}

// occasions groups the actions of a schedule by their time.
func occasions(r *PassageReport) []occasion {
	var out []occasion
	for i, a := range r.Actions {
		n := len(out)
		if n == 0 || !out[n-1].Time.Equal(a.Time) {
			out = append(out, occasion{Time: a.Time, Place: Place{LonDeg: a.LonDeg, LatDeg: a.LatDeg}, Reason: a.Reason})
			n++
		}
		o := &out[n-1]
		o.Actions = append(o.Actions, numberedAction{a, i + 1})
		o.LostS += a.LostS
		o.EffortKJ += a.EffortKJ
		o.Night = o.Night || a.Night
	}
	for i := range out {
		out[i].Speed = speedWords(out[i].Actions)
		if i+1 < len(out) {
			out[i].Then = fmt.Sprintf("Then nothing for %s.", span(out[i+1].Time.Sub(out[i].Time).Minutes()))
		} else {
			out[i].Then = fmt.Sprintf("Then nothing until the arrival, %s later.", span(r.Arrival.Sub(out[i].Time).Minutes()))
		}
	}
	return out
}

// Lost says what an occasion costs.
func (o occasion) Lost() string {
	if math.Round(o.LostS) <= 0 {
		return "Loses no time"
	}
	return "Loses " + seconds(o.LostS)
}

// speedWords says whether, how and for which of its actions an occasion wants
// the boat slower: to the lowest of the ceilings that are passed.
func speedWords(actions []numberedAction) string {
	before, ceiling, least := actions[0].BSPBeforeKn, math.Inf(1), math.Inf(1)
	how := "Slow"
	var slow []string
	for _, a := range actions {
		if a.CeilingKn == 0 {
			continue
		}
		least = math.Min(least, a.CeilingKn)
		if a.BSPBeforeKn <= a.CeilingKn {
			continue
		}
		slow = append(slow, fmt.Sprint(a.Number))
		ceiling = math.Min(ceiling, a.CeilingKn)
		if a.Slowing != "" {
			how = "Slow down (" + a.Slowing + ")"
		}
	}
	switch {
	case len(slow) > 0:
		return fmt.Sprintf("%s from %.1f kn to %.0f kn or less for %s.", how, before, ceiling, list(slow))
	case math.IsInf(least, 1):
		return fmt.Sprintf("At %.1f kn; no need to slow.", before)
	}
	return fmt.Sprintf("At %.1f kn, below the ceiling of %.0f kn; no need to slow.", before, least)
}

// ledgerLine is one cause with its minutes over every baseline.
type ledgerLine struct {
	Cause string
	Cells []string
}

func (p *passagePage) tabulateLedgers() {
	var ledgers [][]LedgerRow
	for i, b := range p.Baselines {
		l := b.Ledger
		if i == 0 {
			l = p.Ledger
		}
		if len(l) > 0 {
			ledgers = append(ledgers, l)
			p.LedgerHeads = append(p.LedgerHeads, "over: "+b.Name)
		}
	}
	if h := p.ByHand; h != nil && len(h.Ledger) > 0 {
		ledgers = append(ledgers, h.Ledger)
		p.LedgerHeads = append(p.LedgerHeads, "by hand, over: "+p.Baselines[0].Name)
	}
	line := map[string]int{}
	for k, l := range ledgers {
		sum := 0.0
		for _, row := range l {
			i, ok := line[row.Cause]
			if !ok {
				i = len(p.LedgerLines)
				line[row.Cause] = i
				p.LedgerLines = append(p.LedgerLines, ledgerLine{row.Cause, make([]string, len(ledgers))})
			}
			p.LedgerLines[i].Cells[k] = signedNumber(row.Minutes, 1)
			sum += row.Minutes
		}
		p.LedgerTotals = append(p.LedgerTotals, signedNumber(sum, 1))
	}
}

// evenLine is one wind of the break-even table.
type evenLine struct {
	TWSKn, HsM float64
	Cells      []evenCell
}

type evenCell struct {
	Known        bool
	Answer, More string
}

// tabulateBreakEven lays the break-even rows out by wind and angle.
func (p *passagePage) tabulateBreakEven() {
	at := map[float64]int{}
	for _, e := range p.BreakEven {
		if _, ok := at[e.TWADeg]; !ok {
			at[e.TWADeg] = len(p.EvenAngles)
			p.EvenAngles = append(p.EvenAngles, e.TWADeg)
		}
	}
	for _, e := range p.BreakEven {
		n := len(p.EvenLines)
		if n == 0 || p.EvenLines[n-1].TWSKn != e.TWSKn || p.EvenLines[n-1].HsM != e.HsM {
			p.EvenLines = append(p.EvenLines, evenLine{TWSKn: e.TWSKn, HsM: e.HsM, Cells: make([]evenCell, len(p.EvenAngles))})
			n++
		}
		c := evenCell{Known: true, Answer: "never pays", More: signedNumber(e.NewBSPKn-e.OldBSPKn, 1) + " kn"}
		switch {
		case e.Refused:
			c.Answer, c.More = "refused", e.RefusedBy
		case e.Pays:
			c.Answer = span(math.Max(e.BreakEvenMin, 0))
			if e.BreakEvenMin > 24*60 {
				c.Answer = "over a day"
			}
			c.More += ", " + e.To
		}
		p.EvenLines[n-1].Cells[at[e.TWADeg]] = c
	}
	if len(p.BreakEven) > 0 {
		p.EvenCaption = fmt.Sprintf("%s, from %s to the best setting, by wind speed and angle", upperFirst(p.BreakEven[0].Action), p.BreakEven[0].From)
	}
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
