package plots

// RuleCard is the one-page table for the chart table.
type RuleCard struct {
	Title, Boat, Version string
	TWSBandsKn           []Band
	TWABandsDeg          []Band
	Cells                [][]RuleCell // [i of TWSBandsKn][j of TWABandsDeg]
	SlowFirst            []string     // the "slow down first" rules
	// Notes are the rules that are not boxes: margins, limits, the sea.
	Notes         []string
	RegretPercent float64 // cost of following the card against the best possible, of passage time
	// KeptPercent is the share of the time that foils can gain that following
	// the card keeps; 0: not said.
	KeptPercent        float64
	FittedOn, TestedOn string
	Cautions           []string // optional; the standing cautions are always printed
}

// Band is a half-open span.
type Band struct {
	From, To float64
}

// CardAdvice is a setting of the foils on a rule card.
type CardAdvice struct {
	Out       bool
	Both      bool // the windward foil is set alike
	Leave     bool // with the leeward foil in, the windward one is left as it is
	Extension float64
	RakeDeg   float64 // at the lower angle of the box, or in its least wind
	// RakeFarDeg is the rake at the other end, and EachDeg or EachKn for how much
	// of angle or wind each rake holds on the way there; 0 both: one rake only.
	RakeFarDeg, EachDeg, EachKn float64
}

// RuleCell is one advice of the rule card.
type RuleCell struct {
	CardAdvice
	BreakEvenMin float64 // 0: not shown
	Refused      bool    // outside the boat's limits: foils in
	// Box joins cells: those with the same number other than 0 form a rectangle
	// and have the same advice; it is printed once.
	Box int
	// Sea is advice of its own above a significant wave height; nil: none.
	Sea *SeaAdvice
}

// SeaAdvice replaces a cell's advice in seas above a height.
type SeaAdvice struct {
	AboveM float64
	CardAdvice
}
