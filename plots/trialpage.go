package plots

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"
)

//go:embed page/trial.html
var trialHTML string

type trialPage struct {
	*TrialReport
	CSS        template.CSS
	JS         template.JS
	Parts      []trialPart
	AllCaution []string
}

type trialPart struct {
	Boat   *TrialBoat
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
	p := &trialPage{TrialReport: r, CSS: template.CSS(tintCSS() + styleCSS), JS: template.JS(commonJS), AllCaution: Cautions}
	for i := range r.Boats {
		part := trialPart{Boat: &r.Boats[i]}
		for _, c := range charts {
			if len(r.Boats) == 1 || strings.HasSuffix(c.Name, fmt.Sprintf("-%d", i+1)) {
				part.Charts = append(part.Charts, inline(c))
			}
		}
		p.Parts = append(p.Parts, part)
	}
	var b bytes.Buffer
	if err := template.Must(template.New("trial").Funcs(pageFuncs).Parse(trialHTML)).Execute(&b, p); err != nil {
		return err
	}
	if b.Len() > MaxPageBytes {
		return fmt.Errorf("plots: the page would be %d bytes, more than %d; use fewer boats or weathers", b.Len(), MaxPageBytes)
	}
	_, err = w.Write(b.Bytes())
	return err
}
