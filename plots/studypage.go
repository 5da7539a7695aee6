package plots

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
)

//go:embed page/study.html
var studyHTML string

// StudyPage is a page of sections: charts, tables and lists of sentences.
type StudyPage struct {
	Title, Subtitle, Headline string
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
	Table  *StudyTable
	Text   []string
	Print  bool // the charts are sheets for printing: on white always
}

// StudyTable is a table; the first cell of a row names it.
type StudyTable struct {
	Caption string
	Head    []string
	Rows    [][]string
}

type studySection struct {
	StudySection
	Figures []inlined
}

type studyPage struct {
	*StudyPage
	CSS        template.CSS
	JS         template.JS
	Parts      []studySection
	AllCaution []string
}

// WriteStudyPage writes one self-contained HTML page: no network, no file
// beside it, under MaxPageBytes. A table whose rows are not as long as its head
// is refused.
func WriteStudyPage(w io.Writer, r *StudyPage) error {
	p := &studyPage{StudyPage: r, CSS: template.CSS(tintCSS() + styleCSS), JS: template.JS(commonJS), AllCaution: Cautions}
	for i, s := range r.Sections {
		part := studySection{StudySection: s}
		for _, c := range s.Charts {
			part.Figures = append(part.Figures, inline(c))
		}
		if s.Table != nil {
			for k, row := range s.Table.Rows {
				if len(row) != len(s.Table.Head) {
					return fieldErr(fmt.Sprintf("StudyPage.Sections[%d].Table.Rows[%d]", i, k), "has %d cells for %d columns", len(row), len(s.Table.Head))
				}
			}
		}
		p.Parts = append(p.Parts, part)
	}
	var b bytes.Buffer
	if err := template.Must(template.New("study").Funcs(pageFuncs).Parse(studyHTML)).Execute(&b, p); err != nil {
		return err
	}
	if b.Len() > MaxPageBytes {
		return fmt.Errorf("plots: the page would be %d bytes, more than %d", b.Len(), MaxPageBytes)
	}
	_, err := w.Write(b.Bytes())
	return err
}
