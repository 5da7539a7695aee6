package vpp

import "fmt"

// Condition is wind and sea as the boat meets them.
type Condition struct {
	TWSMS  float64 // true wind speed at 10 m, m/s, ≥ 0
	TWARad float64 // true wind angle from the bow, 0..π
	HsM    float64 // significant wave height, m, ≥ 0
	// WaveFromBowRad is where the waves come from, as an angle from the bow,
	// 0..π on either side. The zero value means that the sea runs with the wind
	// (the angle is then TWARad); for a sea from dead ahead beside another wind
	// give a tiny positive angle.
	WaveFromBowRad float64
}

// Power says how much of the sails' force is in use.
type Power int

const (
	// PowerNone: sails let go; they flog and drag, and drive nothing.
	PowerNone Power = iota
	// PowerEased: sails eased to the boat file's handling.eased_power.
	PowerEased
	// PowerFull: sails drawing, depowered only as far as the heel limit asks.
	PowerFull
	numPowers = 3
)

func (p Power) String() string {
	switch p {
	case PowerNone:
		return "none"
	case PowerEased:
		return "eased"
	case PowerFull:
		return "full"
	}
	return fmt.Sprintf("Power(%d)", int(p))
}

// Status says how a solution was found, or why there is none.
type Status int

const (
	// Solved: the boat sails steadily at the point returned.
	Solved Status = iota
	// NoGo: the boat cannot make way at this angle; the point returned is at rest.
	NoGo
	// Refused: a limit of the boat file rules this foil state out here; the
	// point returned says which in RuledBy, and what the boat would have done.
	Refused
	// Unsolved: the balances were not found; the point returned is not to be used.
	Unsolved
	// BadInput: a NaN, an infinity or a value outside its range was given.
	BadInput
)

func (s Status) String() string {
	switch s {
	case Solved:
		return "solved"
	case NoGo:
		return "no go"
	case Refused:
		return "refused"
	case Unsolved:
		return "unsolved"
	case BadInput:
		return "bad input"
	}
	return fmt.Sprintf("Status(%d)", int(s))
}

// The limits that can rule a result, as they stand in RuledBy; "" when none did.
const (
	RuleHeel         = "heel"                // sails depowered to hold the heel limit
	RuleOverpowered  = "overpowered"         // even the smallest sails depowered past rig.min_depower
	RuleFoilLoad     = "foil load"           // slowed so that a gust keeps within limits.max_foil_load_tf
	RuleBowImmersion = "bow immersions"      // slowed to limits.max_bow_immersions_per_hour
	RuleWind         = "wind for foils out"  // above limits.max_foils_out_tws_kn
	RuleSea          = "sea for foils out"   // above limits.max_foils_out_hs_m
	RuleNoGo         = "no-go angle"         // too close to the wind to make way
	RuleGrid         = "outside speed table" // beyond the table's axes: end value held
	RuleUnsteady     = "unsteady flight"     // eased: past here the foil leaves the water and the boat falls back
)

// ruleNames lists the rules in the order of their codes in a speed table.
var ruleNames = [...]string{"", RuleHeel, RuleOverpowered, RuleFoilLoad, RuleBowImmersion, RuleWind, RuleSea, RuleNoGo, RuleGrid, RuleUnsteady}

const (
	ruleNone = iota
	ruleHeel
	ruleOverpowered
	ruleFoilLoad
	ruleBowImmersion
	ruleWind
	ruleSea
	ruleNoGo
	ruleGrid
	ruleUnsteady
)

// Factors multiply the uncertain parts of the model; 1 everywhere is the model
// as published. See [FactorRanges] for ranges and reasons.
type Factors struct {
	SailPower      float64 // sail lift and parasitic drag
	HullDrag       float64 // friction and residuary or planing drag of the hull
	FoilLift       float64 // foil lift slope
	FoilDrag       float64 // foil profile, induced, spray and junction drag
	WaveDrag       float64 // added resistance in waves and cost of bow immersions
	RightingMoment float64 // hull form part of the righting moment
}

// NoFactors is the model as published.
func NoFactors() Factors { return Factors{1, 1, 1, 1, 1, 1} }

// Point is one steady state.
type Point struct {
	BSPMS                float64 // boat speed through the water
	HeelRad              float64 // to leeward positive
	LeewayRad            float64
	TrimRad              float64 // bow up positive, from the design trim
	HullLoad             float64 // weight that the hull still carries / weight
	RiseM                float64 // of the hull at the centre of gravity
	FoilLiftN            float64 // vertical lift of the leeward foil
	FoilLoadN            float64 // force normal to the leeward foil
	BowImmersionsPerHour float64
	Depower              float64  // lift fraction of the sails, 1 = full
	Sail                 string   // sail set chosen
	CantRad              float64  // keel cant chosen
	BallastKg            float64  // water ballast chosen
	RuledBy              string   // the limit that ruled, or ""
	ResidualN            float64  // greatest unbalanced force or moment (per metre), N
	Extrapolated         []string // terms used outside their published range: the names of Lean
	Lean                 Lean     // the same as a set
	Forces               Forces   // parts of the force along the track and others, N
	Drag                 Drag     // what brakes, in finer parts, N
}

// Steady is one steady state read from a speed table.
type Steady struct {
	BSPMS                float64
	BSPAboveMS           float64 // speed kept when coming from higher speed; ≥ BSPMS
	HeelRad              float64
	LeewayRad            float64
	TrimRad              float64
	HullLoad             float64
	RiseM                float64
	FoilLiftN            float64
	FoilLoadN            float64
	BowImmersionsPerHour float64
	Depower              float64
	Sail                 string
	RuledBy              string
	Lean                 Lean // terms outside their published range at the nearest grid point
	OK                   bool // false when a limit refuses this foil state here
	Clamped              bool // the condition was outside the table's axes
}

// Grid is the axes of a speed table, rising.
type Grid struct {
	TWSMS  []float64 // true wind speeds, m/s
	TWARad []float64 // true wind angles, first 0 and last π
	HsM    []float64 // significant wave heights, first 0
	VMS    []float64 // boat speeds of the surge samples, m/s
}
