package plots

import (
	"fmt"
	"math"
	"reflect"
)

// SettingChart draws the best extension and rake over wind speed and angle:
// one cell for each pair of the axes, its fill the extension, its number the
// rake.
func SettingChart(d *SettingMap) (Chart, error) {
	if err := finite("SettingMap", reflect.ValueOf(*d), ""); err != nil {
		return Chart{}, err
	}
	if err := checkGrid("SettingMap", d.TWSKn, d.TWADeg, d.Extension, d.RakeDeg); err != nil {
		return Chart{}, err
	}
	c := Chart{
		Name: named(d.Name, "best-setting-map"), Title: d.Title,
		Alt:  "Table of the fastest extension and rake of the leeward foil for each true wind speed and angle; cells without a number: foil in.",
		tall: 90 + 24*float64(len(d.TWSKn)), tallNarrow: 110 + 22*float64(len(d.TWSKn)),
	}
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		y = s.note(fmt.Sprintf("Number: rake (°) of the leeward foil. Darker: further out. Blank: foil in (also where it gains less than 0.1 kn). %s", seaWords(d.Sea, d.HsM)), marginTop, y+4)
		exts := map[float64]bool{}
		x := marginTop
		for _, row := range d.Extension {
			for _, e := range row {
				exts[math.Round(e*20)/20] = true
			}
		}
		for e := 0.05; e < 1.01; e += 0.05 {
			e := math.Round(e*20) / 20
			if !exts[e] {
				continue
			}
			b := box{x, y - 11, x + 16, y}
			s.fillBox(b, magnitude(settingShade(e)))
			s.frame(strokeAxis, b)
			x = s.text(letSmall, x+20, y-2, fmt.Sprintf("out %.0f %%", 100*e), left, top).x1 + 12
		}
		y -= 16
		b := box{marginL, s.box.y0 + xAxisRoom, s.box.x1 - marginR, y - yTitleRoom + 6}
		nx, ny := len(d.TWADeg), len(d.TWSKn)
		w, h := b.w()/float64(nx), b.h()/float64(ny)
		xa, ya := axis{min: -0.5, max: float64(nx) - 0.5, title: "true wind angle from the bow (°)"}, axis{min: -0.5, max: float64(ny) - 0.5, title: "true wind speed (kn)"}
		for j, v := range d.TWADeg {
			xa.ticks = append(xa.ticks, tick{v: float64(j), label: fmt.Sprintf("%g", v)})
		}
		for i, v := range d.TWSKn {
			ya.ticks = append(ya.ticks, tick{v: float64(i), label: fmt.Sprintf("%g", v)})
		}
		p := newPanel(b, xa, ya)
		let := lettering{size: sizeTick}
		for i := range ny {
			for j := range nx {
				cb := box{b.x0 + float64(j)*w, b.y0 + float64(i)*h, b.x0 + float64(j+1)*w, b.y0 + float64(i+1)*h}
				e := d.Extension[i][j]
				if e <= 0.01 {
					s.fillBox(cb, tintPaper)
				} else {
					col := magnitude(settingShade(e))
					s.fillBox(cb, col)
					for _, str := range []string{trimZero(fmt.Sprintf("%.1f", d.RakeDeg[i][j])), fmt.Sprintf("%.0f", d.RakeDeg[i][j])} {
						let.col = readableOn(col)
						q := extent(let, (cb.x0+cb.x1)/2, (cb.y0+cb.y1)/2, str, centre, middle)
						if q.w() < cb.w()-1 && s.free(q) {
							s.text(let, (cb.x0+cb.x1)/2, (cb.y0+cb.y1)/2, str, centre, middle)
							break
						}
					}
				}
				s.frame(strokeGrid, cb)
			}
		}
		p.drawAxes(s, true)
	}
	return c, nil
}

func settingShade(ext float64) float64 { return 0.02 + 0.62*ext }
