package plots

import (
	"image"
	"image/color"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// measure is a canvas that draws nothing: for a trial run of a layout.
type measure struct{}

func (*measure) SetLineWidth(vg.Length)                 {}
func (*measure) SetLineDash([]vg.Length, vg.Length)     {}
func (*measure) SetColor(color.Color)                   {}
func (*measure) Rotate(float64)                         {}
func (*measure) Translate(vg.Point)                     {}
func (*measure) Scale(_, _ float64)                     {}
func (*measure) Push()                                  {}
func (*measure) Pop()                                   {}
func (*measure) Stroke(vg.Path)                         {}
func (*measure) Fill(vg.Path)                           {}
func (*measure) FillString(font.Face, vg.Point, string) {}
func (*measure) DrawImage(vg.Rectangle, image.Image)    {}
