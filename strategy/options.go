package strategy

import (
	"foilledger/vpp/units"
	"foilledger/weather"
)

// Options of a plan. The zero value is usable.
type Options struct {
	// StageM is the longest stage in metres; 0 means 10 nautical miles.
	StageM float64
	// CorridorM is the width in metres of the corridor around the track in
	// which the boat beats or gybes down; 0 means 20 nautical miles.
	CorridorM float64
	// WaveDirections says that the forecast gives the direction of the waves;
	// otherwise they run with the wind.
	WaveDirections bool
	// PowerW is the person's sustained power in watts; 0 means the boat
	// file's.
	PowerW float64
	// NightFactor multiplies the time of actions in the dark; 0 means 1. It is
	// dark when the sun is more than 6° below the horizon.
	NightFactor float64
	// RestLimits must hold for a foil state that is left on while nobody is on
	// deck.
	RestLimits RestLimits
	// Members are the forecasts over which a state left on during a rest must
	// hold; none means the plan's own forecast.
	Members []weather.Source
	// Probability is the share of the members in which it must hold through a
	// whole rest, from its beginning to its end; 0 means 1.
	Probability float64

	// pieceM and intervalS override the steps of the integration, for the
	// measurement of its error.
	pieceM, intervalS float64
	// anyState lets every foil state be left on during a rest.
	anyState bool
}

func (o *Options) stageM() float64    { return or(o.StageM, 10*units.MPerNM) }
func (o *Options) corridorM() float64 { return or(o.CorridorM, 20*units.MPerNM) }
func (o *Options) night() float64     { return or(o.NightFactor, 1) }
func (o *Options) piece() float64     { return or(o.pieceM, subM) }
func (o *Options) interval() float64  { return or(o.intervalS, binS) }

// or returns x, or otherwise when x is not positive.
func or(x, otherwise float64) float64 {
	if x > 0 {
		return x
	}
	return otherwise
}

// RestLimits are the limits of a foil state that is left on during a rest.
// Zero fields are not checked.
type RestLimits struct {
	MaxFoilLoadN            float64
	MaxHeelRad              float64
	MaxBowImmersionsPerHour float64
	// GustFactor turns the mean wind into the gusts of the rest where the
	// forecast has no gusts; 0 means 1.
	GustFactor float64
}

// Window is a span of time in seconds after the forecast's reference.
type Window struct{ FromS, ToS float64 }

// Person is what a schedule must leave to the person who follows it. The zero
// value asks for nothing.
type Person struct {
	// Rests are given: nothing is changed during them, and the foil state left
	// on must hold for their gusts and seas. They are widened to whole
	// intervals of the weather (15 minutes).
	Rests []Window
	// RestS is the rest wanted in every 24 hours of the passage, whenever they
	// begin, in seconds, in unbroken naps of at least NapS seconds; 0 asks for
	// none. The planner places the naps: all the time counts in which nothing is
	// changed, no tack or gybe comes due, and the foil state is one that may be
	// left alone. Over members a nap ends where the state has not held since
	// its beginning in enough of them; the next may begin at once.
	RestS, NapS float64
	// ToleranceS makes the search for rests faster: a schedule may be dropped
	// for an earlier one although it is better rested by up to this at a stage,
	// and of each state only a few labels are kept, spread between the earliest
	// and the best rested. The plan found keeps the rules exactly; a search that
	// leaves nothing out then tries to better it, and Voyage.OpenS says how far
	// it did not get. 0 means 5 minutes; negative leaves nothing out, whatever
	// the time that takes.
	ToleranceS float64
	// SpacingS is the least time from the end of a change to the start of the
	// next. A boat file's settle time is used where it is longer, when any rule
	// is set.
	SpacingS float64
	// EffortJ is the work that the person can do for the foils in 24 hours
	// counted from the departure; 0 means no limit. Every change counts in
	// whole kilojoules, rounded up.
	EffortJ float64
	// Changes is the largest number of changes on the passage; 0 means no limit.
	Changes int
	// LeastGainS is what every change must earn on the whole: the plan
	// minimises passage time plus this for each change.
	LeastGainS float64
}
