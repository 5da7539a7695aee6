package plots

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"regexp"
	"strings"
	"sync"
	"time"
)

var (
	//go:embed page/*.html
	pageFiles embed.FS
	//go:embed page/style.css
	styleCSS string
	//go:embed page/common.js
	commonJS string
)

// MaxPageBytes is the size that a page stays under.
const MaxPageBytes = 3 << 20

// frame is what every page has.
type frame struct {
	CSS        template.CSS
	JS         template.JS
	Data       any // what the script reads, as JSON; nil: nothing
	Key        []KeyNumber
	AllCaution []string
}

// KeyNumber is one of the few numbers that answer first.
type KeyNumber struct {
	Name, Value string
	More        string // what it is counted over, its spread
}

// newFrame fills a frame; the script follows what all pages run.
func newFrame(script string, data any, key ...KeyNumber) frame {
	return frame{CSS: template.CSS(tintCSS() + styleCSS), JS: template.JS(commonJS + script), Data: data, Key: key, AllCaution: Cautions}
}

// pageTemplates are the pages and the parts that they share, read once.
var pageTemplates = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("").Funcs(pageFuncs).ParseFS(pageFiles, "page/*.html"))
})

// render writes a page whole, or nothing when it would be larger than
// MaxPageBytes; hint says how to make it smaller.
func render(w io.Writer, name string, page any, hint string) error {
	var b bytes.Buffer
	if err := pageTemplates().ExecuteTemplate(&b, name, page); err != nil {
		return err
	}
	if b.Len() > MaxPageBytes {
		return fmt.Errorf("plots: the page would be %d bytes, more than %d; %s", b.Len(), MaxPageBytes, hint)
	}
	_, err := w.Write(b.Bytes())
	return err
}

// pageFuncs are the words that templates use.
var pageFuncs = template.FuncMap{
	"stamp": stamp, "span": span, "gain": gain,
	"lat": latitude, "lon": longitude,
	"num":     func(dec int, v float64) string { return strings.Replace(fmt.Sprintf("%.*f", dec, v), "-", "−", 1) },
	"signed":  func(dec int, v float64) string { return signedNumber(v, dec) },
	"inc":     func(i int) int { return i + 1 },
	"plural":  func(n int, one, many string) string { return plural(n, one, many) },
	"iso":     func(t time.Time) string { return t.UTC().Format(time.RFC3339) },
	"utc":     func(t time.Time) string { return t.UTC().Format("Mon 2 Jan 15:04") },
	"hm":      func(h float64) string { return span(h * 60) },
	"secs":    func(s float64) string { return seconds(s) },
	"ceil":    math.Ceil,
	"between": func(a, b time.Time) string { return span(b.Sub(a).Minutes()) },
}

func seconds(s float64) string {
	n := int(math.Round(s))
	if n < 120 {
		return strings.Replace(fmt.Sprintf("%d s", n), "-", "−", 1)
	}
	return fmt.Sprintf("%d min %02d s", n/60, n%60)
}

// inlined is a chart as two SVG elements of which the style sheet shows one.
type inlined struct {
	Name, Alt    string
	Wide, Narrow template.HTML
}

// tintCSS writes the tints as style-sheet variables for paper and for the dark.
func tintCSS() string {
	var light, dark strings.Builder
	for _, t := range allTints {
		fmt.Fprintf(&light, "--c-%s:#%02x%02x%02x;", t.name, t.light.R, t.light.G, t.light.B)
		fmt.Fprintf(&dark, "--c-%s:#%02x%02x%02x;", t.name, t.dark.R, t.dark.G, t.dark.B)
	}
	return fmt.Sprintf(":root{color-scheme:light;%s}\n:root[data-theme=dark]{color-scheme:dark;%s}\n"+
		"@media screen and (prefers-color-scheme:dark){:root:not([data-theme=light]){color-scheme:dark;%s}}\n", light.String(), dark.String(), dark.String())
}

var (
	svgOpen  = regexp.MustCompile(`(?s)^.*?<svg[^>]*viewBox="([^"]*)"[^>]*>`)
	hexColor = regexp.MustCompile(`#[0-9A-Fa-f]{6}`)
	// the page sets the family once for all pictures
	svgFace = regexp.MustCompile(`font-family:'Liberation Sans',Arial,Helvetica,sans-serif;(font-weight:normal;)?`)
)

// inline draws a chart for a page: colours become variables, and the picture
// carries its text alternative.
func inline(c Chart) inlined {
	vars := map[string]string{}
	for _, t := range allTints {
		vars[fmt.Sprintf("#%02x%02x%02x", t.light.R, t.light.G, t.light.B)] = "var(--c-" + t.name + ")"
	}
	one := func(z Size, class string) template.HTML {
		doc := string(c.svg(z))
		m := svgOpen.FindStringSubmatchIndex(doc)
		style := ""
		if w, _ := c.size(z); z == Wide && w != WideWidth {
			// letters as large as in the other pictures
			style = fmt.Sprintf(` style="max-width:%.1f%%"`, 100*w/WideWidth)
		}
		head := fmt.Sprintf(`<svg class="pic %s"%s viewBox="%s" role="img" aria-label="%s" data-chart="%s">`, class, style, doc[m[2]:m[3]], escape(c.Alt), escape(c.Name))
		body := hexColor.ReplaceAllStringFunc(doc[m[1]:], func(h string) string {
			if v, ok := vars[strings.ToLower(h)]; ok {
				return v
			}
			return h
		})
		body = svgFace.ReplaceAllString(body, "")
		return template.HTML(head + body)
	}
	return inlined{c.Name, c.Alt, one(Wide, "wide"), one(Narrow, "narrow")}
}

func inlineAll(charts []Chart) []inlined {
	var out []inlined
	for _, c := range charts {
		out = append(out, inline(c))
	}
	return out
}
