package trial

import (
	"math"
	"time"

	"foilledger/strategy"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// mix sums weighted samples. The wind keeps the weighted mean of the speeds:
// the mean vector of winds from several sides would be a lull that none of
// them has. Directions are those of the mean vectors.
type mix struct {
	s              weather.Sample
	speed          float64
	waveE, waveN   float64
	gustW, periodW float64
}

func (m *mix) add(s weather.Sample, w float64) {
	m.s.U += w * s.U
	m.s.V += w * s.V
	m.speed += w * s.TWSMS()
	m.s.HsM += w * s.HsM
	sin, cos := math.Sincos(s.WaveFromRad)
	m.waveE += w * s.HsM * sin
	m.waveN += w * s.HsM * cos
	if s.GustMS > 0 {
		m.s.GustMS += w * s.GustMS
		m.gustW += w
	}
	if s.WavePeriodS > 0 {
		m.s.WavePeriodS += w * s.WavePeriodS
		m.periodW += w
	}
	m.s.CurrentU += w * s.CurrentU
	m.s.CurrentV += w * s.CurrentV
	m.s.PressurePa += w * s.PressurePa
}

// sample returns the mean of what was added; the weights sum to 1.
func (m *mix) sample() weather.Sample {
	s := m.s
	if l := s.TWSMS(); l > 0 {
		s.U, s.V = s.U*m.speed/l, s.V*m.speed/l
	}
	if m.gustW > 0 {
		s.GustMS /= m.gustW
	}
	if m.periodW > 0 {
		s.WavePeriodS /= m.periodW
	}
	if m.waveE != 0 || m.waveN != 0 {
		s.WaveFromRad = units.Wrap2Pi(math.Atan2(m.waveE, m.waveN))
	}
	return s
}

// Mean is the mean of several weathers with the same reference.
type Mean []weather.Source

// At implements [weather.Source].
func (m Mean) At(lonDeg, latDeg, tS float64) (weather.Sample, error) {
	var x mix
	for _, src := range m {
		s, err := src.At(lonDeg, latDeg, tS)
		if err != nil {
			return weather.Sample{}, err
		}
		x.add(s, 1/float64(len(m)))
	}
	return x.sample(), nil
}

// Reference implements [weather.Source].
func (m Mean) Reference() time.Time { return m[0].Reference() }

// SpanS implements [weather.Source]: the span that all share.
func (m Mean) SpanS() (firstS, lastS float64) {
	firstS, lastS = math.Inf(-1), math.Inf(1)
	for _, src := range m {
		a, b := src.SpanS()
		firstS, lastS = math.Max(firstS, a), math.Min(lastS, b)
	}
	return firstS, lastS
}

// Fading is the forecast that was issued at IssuedS for a weather whose first
// forecast, issued at FromS, was First: its error is the first forecast's error
// times (t − IssuedS)/(t − FromS). An error that grows in proportion to lead
// time does so at the same rate from each issue on. Before its issue it is the
// truth.
type Fading struct {
	Truth, First   weather.Source
	FromS, IssuedS float64
}

// At implements [weather.Source].
func (f *Fading) At(lonDeg, latDeg, tS float64) (weather.Sample, error) {
	s, err := f.Truth.At(lonDeg, latDeg, tS)
	if err != nil || tS <= f.IssuedS || tS <= f.FromS {
		return s, err
	}
	e := math.Min(1, (tS-f.IssuedS)/(tS-f.FromS))
	g, err := f.First.At(lonDeg, latDeg, tS)
	if err != nil {
		return g, err
	}
	var x mix
	x.add(s, 1-e)
	x.add(g, e)
	return x.sample(), nil
}

// Reference implements [weather.Source].
func (f *Fading) Reference() time.Time { return f.Truth.Reference() }

// SpanS implements [weather.Source].
func (f *Fading) SpanS() (firstS, lastS float64) { return Mean{f.Truth, f.First}.SpanS() }

// shifted counts the time of a weather from another reference.
type shifted struct {
	weather.Source
	ref    time.Time
	aheadS float64 // own reference before the other one
}

// shift returns src with its time counted from ref.
func shift(src weather.Source, ref time.Time) weather.Source {
	if src.Reference().Equal(ref) {
		return src
	}
	return shifted{src, ref, ref.Sub(src.Reference()).Seconds()}
}

func (s shifted) At(lonDeg, latDeg, tS float64) (weather.Sample, error) {
	return s.Source.At(lonDeg, latDeg, tS+s.aheadS)
}
func (s shifted) Reference() time.Time { return s.ref }
func (s shifted) SpanS() (firstS, lastS float64) {
	a, b := s.Source.SpanS()
	return a - s.aheadS, b - s.aheadS
}

// issue makes an issue of a source that counts from ref.
func issue(src weather.Source, ref time.Time, at time.Time) strategy.Issue {
	return strategy.Issue{IssuedS: at.Sub(ref).Seconds(), Source: shift(src, ref)}
}
