package plots

import (
	"fmt"
	"io"
	"strings"
)

type trialPage struct {
	*TrialReport
	frame
	Parts []trialPart
}

type trialPart struct {
	Boat   *TrialBoat
	Key    []KeyNumber
	Charts []inlined
}

// WriteTrialPage writes one self-contained HTML page about a trial. It fails
// with a *FieldError when the report does not pass Validate, and with an error
// when the page would be larger than MaxPageBytes.
func WriteTrialPage(w io.Writer, r *TrialReport) error {
	charts, err := TrialCharts(r)
	if err != nil {
		return err
	}
	p := &trialPage{TrialReport: r, frame: newFrame("", nil)}
	for i := range r.Boats {
		part := trialPart{Boat: &r.Boats[i], Key: r.Boats[i].keyNumbers()}
		for _, c := range charts {
			if len(r.Boats) == 1 || strings.HasSuffix(c.Name, fmt.Sprintf("-%d", i+1)) {
				part.Charts = append(part.Charts, inline(c))
			}
		}
		p.Parts = append(p.Parts, part)
	}
	return render(w, "trial", p, "use fewer boats or weathers")
}

func (b *TrialBoat) keyNumbers() []KeyNumber {
	best := b.Policies[b.Best]
	return []KeyNumber{
		{"Best policy", best.Name, fmt.Sprintf("fastest of all in %.0f %% of the weathers", best.WonPct)},
		{"Gains, median", gain(best.MedianMin), fmt.Sprintf("10 to 90 %%: %s to %s", gain(best.P10), gain(best.P90))},
		{"Of what can be gained", fmt.Sprintf("%.0f %%", b.CeilingPct), "the rest would need to know the weather to come"},
	}
}
