package grib

import (
	"fmt"

	"foilledger/weather/grid"
)

// level is where a field lies, in the terms of either edition.
type level int

const (
	otherLevel level = iota
	surface          // ground or water surface
	tenMetres        // 10 m above ground
	meanSea          // mean sea level
	seaSurface       // at most 1 m below the sea surface
	sequence         // n-th of an ordered sequence, as swell partitions
	topOfOcean       // edition 1 codes of the uppermost ocean water
	entireOcean
)

// quantity2 maps an edition 2 parameter at a level. The numbers are those of
// WMO-No. 306, code tables 4.2-0-2 (momentum), 4.2-0-3 (mass), 4.2-10-0
// (waves) and 4.2-10-1 (currents). Wave models state their 10 m wind at the
// surface. The same parameter at other levels is another quantity. n is the
// number in an ordered sequence.
func quantity2(discipline, category, number byte, at level, n int) (q grid.Quantity, partition int) {
	windLevel := at == tenMetres || at == surface
	sea := at == surface || at == meanSea || at == seaSurface
	switch [3]byte{discipline, category, number} {
	case [3]byte{0, 2, 0}:
		q = when(windLevel, grid.WindFrom)
	case [3]byte{0, 2, 1}:
		q = when(windLevel, grid.WindSpeed)
	case [3]byte{0, 2, 2}:
		q = when(windLevel, grid.WindU)
	case [3]byte{0, 2, 3}:
		q = when(windLevel, grid.WindV)
	case [3]byte{0, 2, 22}:
		q = when(windLevel, grid.Gust)
	case [3]byte{0, 3, 0}:
		q = when(at == meanSea, grid.SeaLevelPressure)
	case [3]byte{0, 3, 1}: // pressure reduced to mean sea level, whatever its level says
		q = when(at == meanSea || at == surface, grid.SeaLevelPressure)
	case [3]byte{10, 0, 3}:
		q = when(sea, grid.WaveHeight)
	case [3]byte{10, 0, 4}, [3]byte{10, 0, 71}:
		q = when(sea, grid.WindSeaFrom)
	case [3]byte{10, 0, 5}:
		q = when(sea, grid.WindSeaHeight)
	case [3]byte{10, 0, 6}, [3]byte{10, 0, 35}:
		q = when(sea, grid.WindSeaPeriod)
	case [3]byte{10, 0, 7}:
		q, partition = swell(sea, at, n, grid.SwellFrom)
	case [3]byte{10, 0, 8}:
		q, partition = swell(sea, at, n, grid.SwellHeight)
	case [3]byte{10, 0, 9}, [3]byte{10, 0, 36}:
		q, partition = swell(sea, at, n, grid.SwellPeriod)
	case [3]byte{10, 0, 10}, [3]byte{10, 0, 14}, [3]byte{10, 0, 46}:
		q = when(sea, grid.WaveFrom)
	case [3]byte{10, 0, 11}, [3]byte{10, 0, 34}:
		q = when(sea, grid.WavePeakPeriod)
	case [3]byte{10, 0, 15}:
		q = when(sea, grid.WaveMeanPeriod)
	case [3]byte{10, 0, 40}:
		q = when(sea || at == tenMetres, grid.WindSpeed)
	case [3]byte{10, 0, 41}:
		q = when(sea || at == tenMetres, grid.WindFrom)
	case [3]byte{10, 1, 2}:
		q = when(sea, grid.CurrentU)
	case [3]byte{10, 1, 3}:
		q = when(sea, grid.CurrentV)
	default:
		if discipline == 10 && category == 0 && sea {
			q, partition = numberedSwell(number)
		}
	}
	return q, partition
}

// numberedSwell maps the parameters that name a swell partition themselves:
// first, second, third.
func numberedSwell(number byte) (grid.Quantity, int) {
	switch {
	case number >= 47 && number <= 49:
		return grid.SwellHeight, int(number) - 46
	case number >= 50 && number <= 52:
		return grid.SwellPeriod, int(number) - 49
	case number >= 53 && number <= 55:
		return grid.SwellFrom, int(number) - 52
	}
	return grid.Other, 0
}

func when(ok bool, q grid.Quantity) grid.Quantity {
	if ok {
		return q
	}
	return grid.Other
}

// swell is the whole swell at a surface and one partition in a sequence.
func swell(sea bool, at level, n int, q grid.Quantity) (grid.Quantity, int) {
	switch {
	case sea:
		return q, 0
	case at == sequence && n > 0:
		return q, n
	}
	return grid.Other, 0
}

// Originating centres, WMO common code table C-1.
const (
	centreNCEP  = 7
	centreECMWF = 98
)

// quantity1 maps an edition 1 parameter at a level. Tables up to 3 share the
// WMO's code table 2 below 128; the others are the ECMWF's tables 128, 140 and
// 228. Parameters from 128 belong to the centre.
func quantity1(centre, table, number int, at level, n int) (q grid.Quantity, partition int) {
	windLevel := at == tenMetres || at == surface
	sea := at == surface || at == meanSea || at == seaSurface
	switch {
	case table <= 3 && number < 128:
		switch number {
		case 1:
			q = when(at == meanSea, grid.SeaLevelPressure)
		case 2:
			q = when(at == meanSea || at == surface, grid.SeaLevelPressure)
		case 31:
			q = when(windLevel, grid.WindFrom)
		case 32:
			q = when(windLevel, grid.WindSpeed)
		case 33:
			q = when(windLevel, grid.WindU)
		case 34:
			q = when(windLevel, grid.WindV)
		case 49:
			q = when(sea, grid.CurrentU)
		case 50:
			q = when(sea, grid.CurrentV)
		case 100:
			q = when(sea, grid.WaveHeight)
		case 101:
			q = when(sea, grid.WindSeaFrom)
		case 102:
			q = when(sea, grid.WindSeaHeight)
		case 103:
			q = when(sea, grid.WindSeaPeriod)
		case 104:
			q, partition = swell(sea, at, n, grid.SwellFrom)
		case 105:
			q, partition = swell(sea, at, n, grid.SwellHeight)
		case 106:
			q, partition = swell(sea, at, n, grid.SwellPeriod)
		case 107:
			q = when(sea, grid.WaveFrom)
		case 108:
			q = when(sea, grid.WavePeakPeriod)
		}
	case table == 2 && centre == centreNCEP && number == 180:
		q = when(windLevel, grid.Gust)
	case table == 128:
		switch number {
		case 49, 123: // since the previous step, in the last 6 hours
			q = when(windLevel, grid.Gust)
		case 151:
			q = when(at == surface || at == meanSea, grid.SeaLevelPressure)
		case 165:
			q = when(windLevel, grid.WindU)
		case 166:
			q = when(windLevel, grid.WindV)
		case 207:
			q = when(windLevel, grid.WindSpeed)
		}
	case table == 228:
		switch number {
		case 28, 29: // in the last 3 hours, now
			q = when(windLevel, grid.Gust)
		}
	case table == 140:
		switch number {
		case 229:
			q = when(sea, grid.WaveHeight)
		case 230:
			q = when(sea, grid.WaveFrom)
		case 231:
			q = when(sea, grid.WavePeakPeriod)
		case 232:
			q = when(sea, grid.WaveMeanPeriod)
		case 234:
			q = when(sea, grid.WindSeaHeight)
		case 235:
			q = when(sea, grid.WindSeaFrom)
		case 236:
			q = when(sea, grid.WindSeaPeriod)
		case 237:
			q = when(sea, grid.SwellHeight)
		case 238:
			q = when(sea, grid.SwellFrom)
		case 239:
			q = when(sea, grid.SwellPeriod)
		case 245:
			q = when(sea || at == tenMetres, grid.WindSpeed)
		case 249:
			q = when(sea || at == tenMetres, grid.WindFrom)
		}
	}
	return q, partition
}

// levelName writes a level for people.
func levelName(kind int, value float64, known bool) string {
	v := fmt.Sprintf("%.6g", value)
	switch kind {
	case 1:
		return "surface"
	case 100:
		return v + " hPa"
	case 101, 102:
		if known && kind == 102 {
			return v + " m above mean sea"
		}
		return "mean sea level"
	case 103, 105:
		return v + " m above ground"
	case 160:
		return v + " m below sea level"
	case 241:
		return "number " + v + " of a sequence"
	}
	if known {
		return fmt.Sprintf("type %d: %s", kind, v)
	}
	return fmt.Sprintf("type %d", kind)
}

// overInterval keeps the quantity of a value that stands for an interval only
// where that is what the quantity means: the highest gust. The mean wind of six
// hours is not the wind at their end.
func overInterval(q grid.Quantity, partition int, extreme bool) (grid.Quantity, int) {
	if q == grid.Gust && extreme {
		return q, partition
	}
	return grid.Other, 0
}

// ofEnsemble keeps the quantity of members and means; the spread of a wind is
// not a wind.
func ofEnsemble(q grid.Quantity, partition int, kind string) (grid.Quantity, int) {
	switch kind {
	case "", "control", "member", "mean":
		return q, partition
	}
	return grid.Other, 0
}
