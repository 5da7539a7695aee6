package grib

import (
	"encoding/binary"
	"fmt"
	"math"
)

// product2 reads section 4: templates 4.0, 4.1, 4.2 at a point in time and 4.8,
// 4.11, 4.12 over an interval. All others, such as 4.103 for a band of wave
// periods, carry known parameter codes for something else and are refused.
func (s *scanner) product2(h *Header, m *sections2) error {
	b := m.product
	template := int(binary.BigEndian.Uint16(b[7:]))
	h.Product = fmt.Sprintf("4.%d", template)
	if len(b) >= 11 {
		h.Parameter = fmt.Sprintf("%d/%d/%d", m.discipline, b[9], b[10])
	}
	least, ok := map[int]int{0: 34, 1: 37, 2: 36, 8: 34 + 24, 11: 37 + 24, 12: 36 + 24}[template]
	if !ok {
		name := productName2[template]
		if name != "" {
			name = " " + name
		}
		return &UnsupportedError{"product", h.Product + name, ""}
	}
	if len(b) < least {
		return errShort
	}
	at, n := s.level2(h, b)
	h.Quantity, h.Partition = quantity2(m.discipline, b[9], b[10], at, n)
	switch b[11] {
	case 5, 6, 7, 9, 18, 20, 21:
		// Probabilities, errors, climate, differences and increments.
		h.Quantity, h.Partition = 0, 0
	}
	unit, err := unitSeconds(b[17], 2)
	if err != nil {
		return err
	}
	if m.timeErr != nil {
		return nil
	}
	h.Valid, err = after(m.reference, signMagnitude32(b[18:]), unit)
	if err != nil {
		return err
	}
	interval := 0
	switch template {
	case 1, 11:
		h.Member, h.EnsembleKind = int(b[35]), "member"
		if b[34] == 0 || b[34] == 1 {
			h.Member, h.EnsembleKind = 0, "control"
		}
		interval = 37
	case 2, 12:
		h.EnsembleKind = derivedName[b[34]]
		if h.EnsembleKind == "" {
			h.EnsembleKind = fmt.Sprintf("derived %d", b[34])
		}
		interval = 36
	default:
		interval = 34
	}
	h.Quantity, h.Partition = ofEnsemble(h.Quantity, h.Partition, h.EnsembleKind)
	if template >= 8 {
		e := b[interval:]
		h.Valid, err = dateTime(int(binary.BigEndian.Uint16(e)), int(e[2]), int(e[3]), int(e[4]), int(e[5]), int(e[6]))
		if err != nil {
			return err
		}
		ranges, process := e[7], e[12]
		h.Quantity, h.Partition = overInterval(h.Quantity, h.Partition, ranges == 1 && process == 2)
	}
	return nil
}

// derivedName names the derived forecasts of WMO code table 4.7.
var derivedName = map[byte]string{
	0: "mean", 1: "mean", 2: "standard deviation", 3: "normalised standard deviation", 4: "spread",
	5: "large anomaly index", 6: "cluster mean", 7: "interquartile range", 8: "minimum", 9: "maximum",
}

// productName2 names some of the product templates that are refused.
var productName2 = map[int]string{
	3: "cluster of members", 4: "cluster of members", 5: "probability", 6: "percentile", 7: "forecast error",
	9: "probability over an interval", 10: "percentile over an interval", 15: "statistics over an area",
	20: "radar", 31: "satellite", 32: "simulated satellite", 40: "chemistry", 48: "aerosol",
	99: "waves by period range", 100: "waves by period range, member", 103: "waves of a period range",
	104: "waves of a period range, member",
}

// level2 reads the fixed surfaces and returns the level and, for an ordered
// sequence, the number in it.
func (s *scanner) level2(h *Header, b []byte) (level, int) {
	kind := int(b[22])
	scaled := binary.BigEndian.Uint32(b[24:])
	known := b[23] != 0xff && scaled != math.MaxUint32
	value := 0.0
	if known {
		value = float64(signMagnitude32(b[24:])) * math.Pow(10, -float64(signMagnitude8(b[23])))
	}
	show := value
	if kind == 100 {
		show /= 100
	}
	h.Level = levelName(kind, show, known)
	if kind == 103 && !known {
		h.Level = "unknown height above ground"
	}
	if b[28] != 0xff && b[28] != byte(kind) {
		h.Level += fmt.Sprintf(" to type %d", b[28])
		return otherLevel, 0
	}
	if b[28] != 0xff && string(b[23:28]) != string(b[29:34]) {
		h.Level += " (layer)"
		return otherLevel, 0
	}
	switch {
	case kind == 1:
		return surface, 0
	case kind == 101:
		return meanSea, 0
	case kind == 103 && known && math.Abs(value-10) < 1e-6:
		return tenMetres, 0
	case kind == 160 && (!known || math.Abs(value) <= 1):
		return seaSurface, 0
	case kind == 241 && known && value >= 1 && value < 256:
		return sequence, int(value)
	}
	return otherLevel, 0
}
