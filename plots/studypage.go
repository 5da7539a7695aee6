package plots

import (
	"fmt"
	"io"
)

// StudyPage is a page of sections: charts, tables and lists of sentences.
type StudyPage struct {
	Title, Subtitle, Headline string
	KeyNumbers                []KeyNumber // the three numbers that answer first
	Version                   string
	Sections                  []StudySection
	Warnings, Assumptions     []string
	Inputs                    []Input
}

// StudySection is one part of the page. Its charts come first, then the table,
// then the sentences; all may be empty.
type StudySection struct {
	Title  string
	Charts []Chart
	Table  *PageTable
	Text   []string
	Print  bool // the charts are sheets for printing: on white always
}

type studySection struct {
	StudySection
	Figures []inlined
}

type studyPage struct {
	*StudyPage
	frame
	Parts []studySection
}

// WriteStudyPage writes one self-contained HTML page: no network, no file
// beside it, under MaxPageBytes. A table whose rows are not as long as its head
// is refused.
func WriteStudyPage(w io.Writer, r *StudyPage) error {
	p := &studyPage{StudyPage: r, frame: newFrame("", nil, r.KeyNumbers...)}
	for i, s := range r.Sections {
		if s.Table != nil {
			if err := s.Table.validate(fmt.Sprintf("StudyPage.Sections[%d].Table", i)); err != nil {
				return err
			}
		}
		p.Parts = append(p.Parts, studySection{s, inlineAll(s.Charts)})
	}
	return render(w, "study", p, "use fewer charts")
}
