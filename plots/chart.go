package plots

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"time"

	pdf "codeberg.org/go-pdf/fpdf"
	stdfont "golang.org/x/image/font"
	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgpdf"
	"gonum.org/v1/plot/vg/vgsvg"
)

// Chart is a picture that can be written in several formats and two widths.
type Chart struct {
	Name  string // file name without ending: "gain-along-passage"
	Title string
	Alt   string // what it shows, in words, for who cannot see it
	// heights in points at the two widths
	tall, tallNarrow float64
	wide             float64 // 0: WideWidth
	draw             func(*sheet)
}

// Size is one of the supported layouts of a chart.
type Size int

const (
	// Wide is for paper and screens.
	Wide Size = iota
	// Narrow is for telephones.
	Narrow
)

// Widths in points.
const (
	WideWidth   = 720.0
	NarrowWidth = 350.0
)

// pngDPI makes a wide chart 1500 pixels across.
const pngDPI = 150

func (c Chart) size(z Size) (w, h float64) {
	if z == Narrow {
		return NarrowWidth, c.tallNarrow
	}
	if c.wide != 0 {
		return c.wide, c.tall
	}
	return WideWidth, c.tall
}

// paint draws the chart on a canvas.
func (c Chart) paint(cv vg.Canvas, z Size) {
	w, h := c.size(z)
	c.draw(newSheet(cv, w, h, z == Narrow))
}

var (
	// svgFamily gives viewers without the bundled font one of the same widths.
	svgFamily  = regexp.MustCompile(`font-family:Liberation Sans;font-variant:[a-z-]+;font-weight:(\w+);font-style:normal`)
	svgComment = regexp.MustCompile(`(?s)<!--.*?-->\n?`)
)

// svg returns the SVG document.
func (c Chart) svg(z Size) []byte {
	w, h := c.size(z)
	cv := vgsvg.New(vg.Length(w), vg.Length(h))
	c.paint(cv, z)
	var b bytes.Buffer
	// Writing to memory cannot fail.
	_, _ = cv.WriteTo(&b)
	out := svgFamily.ReplaceAll(b.Bytes(), []byte(`font-family:'Liberation Sans',Arial,Helvetica,sans-serif;font-weight:$1`))
	out = svgComment.ReplaceAll(out, nil)
	// the back end writes PNG data under another name
	out = bytes.ReplaceAll(out, []byte("data:image/jpg;"), []byte("data:image/png;"))
	return bytes.ReplaceAll(out, []byte("\n\tstyle="), []byte(" style="))
}

// SVG writes the chart as a standalone SVG document.
func (c Chart) SVG(w io.Writer, z Size) error {
	doc := c.svg(z)
	// a document needs its text alternative inside
	head := fmt.Sprintf("<title>%s</title>\n<desc>%s</desc>\n", escape(c.Title), escape(c.Alt))
	i := bytes.Index(doc, []byte("<svg"))
	j := bytes.IndexByte(doc[i:], '>') + i + 1
	for _, part := range [][]byte{doc[:j], []byte("\n" + head), doc[j:]} {
		if _, err := w.Write(part); err != nil {
			return err
		}
	}
	return nil
}

var escape = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;").Replace

// PNG writes the chart as a PNG picture.
func (c Chart) PNG(w io.Writer, z Size) error { return c.pngAt(w, z, pngDPI) }

func (c Chart) pngAt(w io.Writer, z Size, dpi int) error {
	width, height := c.size(z)
	cv := vgimg.NewWith(vgimg.UseWH(vg.Length(width), vg.Length(height)), vgimg.UseDPI(dpi))
	c.paint(cv, z)
	enc := png.Encoder{CompressionLevel: png.BestCompression}
	return enc.Encode(w, cv.Image())
}

// pdfStamp is the date that PDF files carry: a fixed one, so that equal charts
// are equal bytes.
var pdfStamp = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// pdfOnce sets the PDF library's defaults, which are global to the process.
var pdfOnce = sync.OnceFunc(func() {
	pdf.SetDefaultCatalogSort(true)
	pdf.SetDefaultCreationDate(pdfStamp)
	pdf.SetDefaultModificationDate(pdfStamp)
})

// pdfCanvas works around three faults of the PDF back end. It hands the bytes of
// a string to a font encoded in Windows code page 1252, so UTF-8 would print "Â°"
// for "°"; it stores every face under one name, so that bold letters come out
// regular; and it puts pictures upside down. Regular text is recoded and stays
// text; bold is drawn as outlines; pictures are turned beforehand.
type pdfCanvas struct{ *vgpdf.Canvas }

// pdfPlain replaces the few characters in use that the code page lacks.
var pdfPlain = strings.NewReplacer("−", "\u2013", "≥", ">=", "≤", "<=", "→", "to", "′", "'", "″", "\"", "\u2009", " ", "\u202f", " ", "✓", "x", "▲", "^", "▼", "v")

func (c pdfCanvas) FillString(f font.Face, p vg.Point, str string) {
	if f.Font.Weight != stdfont.WeightNormal {
		c.Fill(outlines(f, p, str))
		return
	}
	out, err := pdfText(str)
	if err != nil {
		out = "?"
	}
	c.Canvas.FillString(f, p, out)
}

func (c pdfCanvas) DrawImage(r vg.Rectangle, img image.Image) {
	b := img.Bounds()
	turned := image.NewNRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	for y := range b.Dy() {
		for x := range b.Dx() {
			turned.Set(x, b.Dy()-1-y, img.At(b.Min.X+x, b.Min.Y+y))
		}
	}
	c.Canvas.DrawImage(r, turned)
}

// pdfText recodes a text in code page 1252.
func pdfText(str string) (string, error) {
	return encoding.ReplaceUnsupported(charmap.Windows1252.NewEncoder()).String(pdfPlain.Replace(str))
}

// PDF writes the chart as a one-page PDF.
func (c Chart) PDF(w io.Writer, z Size) error {
	pdfOnce()
	width, height := c.size(z)
	cv := vgpdf.New(vg.Length(width), vg.Length(height))
	c.paint(pdfCanvas{cv}, z)
	_, err := cv.WriteTo(w)
	return err
}

// WriteFiles writes charts into a folder as "name.format" for each of the
// formats "svg", "png" and "pdf", and returns the files' names. Each file
// appears whole or not at all.
func WriteFiles(dir string, charts []Chart, formats ...string) ([]string, error) {
	var names []string
	for _, c := range charts {
		for _, f := range formats {
			var b bytes.Buffer
			var err error
			switch f {
			case "svg":
				err = c.SVG(&b, Wide)
			case "png":
				err = c.PNG(&b, Wide)
			case "pdf":
				err = c.PDF(&b, Wide)
			default:
				err = fmt.Errorf("plots: no format %q; there are svg, png and pdf", f)
			}
			if err != nil {
				return names, err
			}
			name := filepath.Join(dir, c.Name+"."+f)
			if err := writeWhole(name, b.Bytes()); err != nil {
				return names, err
			}
			names = append(names, name)
		}
	}
	return names, nil
}

// writeWhole writes a file through a temporary one in the same folder.
func writeWhole(name string, data []byte) (err error) {
	tmp, err := os.CreateTemp(filepath.Dir(name), ".part-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(tmp.Name()))
		}
	}()
	if _, err = tmp.Write(data); err != nil {
		return errors.Join(err, tmp.Close())
	}
	if err = tmp.Chmod(0o644); err != nil {
		return errors.Join(err, tmp.Close())
	}
	if err = tmp.Close(); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), name)
}
