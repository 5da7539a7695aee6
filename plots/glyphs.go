package plots

import (
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// outlines is the path of a text's letters, for canvases that cannot set a face.
// Letters that the face lacks are left out.
func outlines(f font.Face, at vg.Point, str string) vg.Path {
	// Outlines are read at 1000 units to the em and scaled; 26.6 fixed point
	// then rounds to a 64 000th of the size.
	const em = 1000
	scale := f.Font.Size / em / 64
	var buf sfnt.Buffer
	var path vg.Path
	for i, r := range str {
		gid, err := f.Face.GlyphIndex(&buf, r)
		if err != nil || gid == 0 {
			continue
		}
		segs, err := f.Face.LoadGlyph(&buf, gid, fixed.I(em), nil)
		if err != nil {
			continue
		}
		x := at.X + f.Width(str[:i])
		p := func(q fixed.Point26_6) vg.Point {
			return vg.Point{X: x + vg.Length(q.X)*scale, Y: at.Y - vg.Length(q.Y)*scale}
		}
		for k, s := range segs {
			switch s.Op {
			case sfnt.SegmentOpMoveTo:
				if k > 0 {
					path.Close()
				}
				path.Move(p(s.Args[0]))
			case sfnt.SegmentOpLineTo:
				path.Line(p(s.Args[0]))
			case sfnt.SegmentOpQuadTo:
				path.QuadTo(p(s.Args[0]), p(s.Args[1]))
			case sfnt.SegmentOpCubeTo:
				path.CubeTo(p(s.Args[0]), p(s.Args[1]), p(s.Args[2]))
			}
		}
		if len(segs) > 0 {
			path.Close()
		}
	}
	return path
}
