package plots

import "time"

// Place is a position on the Earth in degrees: longitude east in [−180, 180),
// latitude north.
type Place struct {
	LonDeg, LatDeg float64
}

// PassageReport is everything that the page and the charts of one planned
// passage show. Every number must be finite; see Validate. Slices marked
// optional may be nil, and then their part of the page is left out.
type PassageReport struct {
	Title    string // "Demo passage: Gulf of Cádiz to the Lesser Antilles"
	Boat     string // name of the boat file's boat
	Headline string // the answer in one or two sentences of plain words

	Departure, Arrival time.Time
	DistanceNM         float64 // along the track, nautical miles
	PassageTimeH       float64 // hours

	// Baselines are the runs that the plan is compared with; the first one is
	// the one that the ledger, the running gain and the map's second boat use.
	Baselines []Baseline
	// Steps describe the plan, one per step along the track in order of time.
	Steps   []Step
	Actions []Action // in order of time
	// Ledger splits the time gained over Baselines[0]; its minutes sum to
	// Baselines[0].TimeGainedMin within 0.02.
	Ledger  []LedgerRow
	Running []RunningPoint // in order of time

	BreakEven []BreakEvenRow  // optional
	BreakMaps []*BreakEvenMap // optional: one chart for each, with names of their own
	// BoundGapMin says that no schedule on this track and step size can be
	// faster by more than this, minutes, ≥ 0.
	BoundGapMin float64
	// GainLowMin, GainMidMin and GainHighMin are the 10, 50 and 90 % points of
	// the time gained over the ensemble members, minutes; low and high are both
	// zero when there was one forecast only. With fewer than FewMembers members
	// they are the least and the most. SpreadWords says it in sentences.
	GainLowMin, GainMidMin, GainHighMin float64
	SpreadWords                         string
	Members                             []MemberGain     // optional, by number
	ByHand                              *ByHand          // optional: a schedule given by hand
	Precision                           []string         // optional: how exact the plan is, in sentences
	RestWords                           []string         // optional: what rest the plan leaves, in sentences
	ConstraintCosts                     []ConstraintCost // optional: what rest, spacing and effort limits cost
	Rests                               []Rest           // optional: when nothing is touched

	Warnings    []string // what went wrong or was substituted in this run
	Assumptions []string // what the run took for granted
	Limits      []string // which limits ruled, and for how long
	Caveats     []string // what the model leaves out or cannot tell
	Cautions    []string // optional; the standing cautions are always printed

	Inputs  []Input
	Command string // optional: the command line that repeats this result
	Version string // version of the program

	// LocalZone is the second zone of the schedule, beside UTC; nil leaves UTC
	// only until the reader chooses one.
	LocalZone *time.Location

	Extent *Extent   // optional: area of the map; nil fits the tracks
	Wind   *WindGrid // optional: wind barbs of the map
	Coast  [][]Place // optional: closed land outlines, each ring without repeating its first place
	Marks  []Mark    // optional: named places drawn on the map
	Fronts []Front   // optional: lines of equal time below the tracks
}

// Baseline is the same passage sailed another way.
type Baseline struct {
	Name          string // "foils aboard, never used"
	PassageTimeH  float64
	TimeGainedMin float64 // baseline passage time − plan's passage time; positive: the plan is earlier
	Steps         []Step  // optional except for the first baseline's map boat
	// Ledger splits TimeGainedMin for this baseline; optional.
	Ledger []LedgerRow
}

// MemberGain is the time gained in one ensemble member.
type MemberGain struct {
	Number    int
	GainedMin float64
}

// ByHand is the passage sailed with a schedule given by hand.
type ByHand struct {
	Name          string // of the file
	Words         string // how it compares with the plan
	PassageTimeH  float64
	TimeGainedMin float64 // over the first baseline
	BehindMin     float64 // later than the plan
	Actions       []Action
	Ledger        []LedgerRow // over the first baseline; optional
	EffortKJ      float64
}

// Step is the boat at one moment of a passage.
type Step struct {
	Time           time.Time
	LatDeg, LonDeg float64
	DistanceNM     float64 // sailed along the track since departure
	BSPKn, SOGKn   float64 // through the water, over the ground
	TWSKn          float64
	TWADeg         float64 // 0…180 from the bow
	WindFromDeg    float64 // clockwise from true north
	HsM            float64 // significant wave height
	WaveFromDeg    float64
	HeadingDeg     float64 // course made good, clockwise from true north

	Board                string  // "port" or "starboard": the side that the wind comes from
	PortExt, StbdExt     float64 // 0 in … 1 fully out
	PortRakeDeg          float64
	StbdRakeDeg          float64
	HeelDeg, TrimDeg     float64 // to leeward positive, bow up positive
	HullLoad             float64 // share of the weight that the hull still carries
	FoilLiftT            float64 // vertical, tonnes-force
	BowImmersionsPerHour float64
	Sail                 string // name of the sail set
	Doing                string // "sailing", "deploying leeward foil", …; short
	RuledBy              string // the limit that ruled, or empty
	GustKn               float64
	CurrentKn            float64
	CurrentToDeg         float64
	Resting              bool
	EffortKJ             float64 // spent so far
	OutsideModel         bool    // the model extrapolated here
}

// Action is one change of a foil.
type Action struct {
	Time           time.Time
	LatDeg, LonDeg float64
	DistanceNM     float64
	Side           string // "port" or "starboard"
	Action         string // "deploy", "retract", "extend", "shorten", "add rake", "take off rake"
	From, To       string // "in", "out 1.00, rake 3°", …
	LostS          float64
	EffortKJ       float64
	BSPBeforeKn    float64 // speed before slowing
	CeilingKn      float64 // speed above which the action cannot be done; 0: no ceiling
	Reason         string  // why now, in one sentence
	Night          bool    // done in the dark
	Slowing        string  // how to slow down, in words; empty when there is no need
}

// LedgerRow is one cause of time gained or lost.
type LedgerRow struct {
	Cause   string
	Minutes float64 // positive: gained
}

// RunningPoint is the time gained so far at one place of the track.
type RunningPoint struct {
	Time       time.Time // of the plan's passing
	DistanceNM float64
	GainedMin  float64 // the baseline passes this place so much later
}

// BreakEvenRow says how long conditions must last for an action to pay.
type BreakEvenRow struct {
	Action             string // "deploy leeward foil"
	From, To           string
	TWSKn, TWADeg, HsM float64
	LostS, EffortKJ    float64
	OldBSPKn, NewBSPKn float64
	Pays               bool    // false: the new state is not faster; BreakEvenMin is ignored
	BreakEvenMin       float64 // time lost / (1 − old speed / new speed)
	Refused            bool    // a limit refuses the new state here
	RefusedBy          string
}

// ConstraintCost is what one constraint on the schedule costs.
type ConstraintCost struct {
	Name    string // "rest 5 h in every 24"
	Minutes float64
}

// Rest is a span in which nothing is changed.
type Rest struct {
	From, To time.Time
}

// Input is a file that went into the result.
type Input struct {
	File, SHA256 string
}

// Extent is an area of the map, degrees. East may exceed 180 when the area
// crosses the antimeridian; West < East always.
type Extent struct {
	WestDeg, EastDeg, SouthDeg, NorthDeg float64
}

// WindGrid is the wind on a coarse regular grid at a few times: enough for
// barbs. UKn and VKn (towards east and north, knots) are indexed
// [time][row·len(LonDeg)+column], rows along LatDeg. NaN marks missing places.
// About 12×9 places at 3 to 6 hour steps keeps the page small.
type WindGrid struct {
	Times  []time.Time
	LonDeg []float64   // ascending; may run past 180 across the antimeridian
	LatDeg []float64   // ascending
	UKn    [][]float64 `gaps:"nan"`
	VKn    [][]float64 `gaps:"nan"`
	HsM    [][]float64 `gaps:"nan"` // optional: nil leaves waves out
}

// Mark is a named place on the map.
type Mark struct {
	Name string
	Place
}

// PolarData is boat speed against true wind angle for several foil states and
// true wind speeds.
type PolarData struct {
	Name   string // of the chart; "polar" when empty
	Title  string
	HsM    float64
	Sea    string // optional: the sea in words, where it differs by wind
	Curves []PolarCurve
}

// PolarCurve is one foil state at one true wind speed.
type PolarCurve struct {
	State  string // "foils in", "out 1.00, best rake"
	TWSKn  float64
	Points []PolarPoint // by ascending angle
}

// PolarPoint is one point of a polar curve.
type PolarPoint struct {
	TWADeg, BSPKn float64
}

// GainMap is a value over true wind speed and angle: by default the speed
// gained over foils in, knots.
type GainMap struct {
	Name     string // of the chart; "gain-map" when empty
	Sea      string // optional: the sea in words, where it differs by wind
	Title    string
	Quantity string // name of the value with its unit, for instance "speed gained over foils in (kn)"
	HsM      float64
	TWSKn    []float64   // ascending
	TWADeg   []float64   // ascending
	Value    [][]float64 `gaps:"nan"` // [i of TWSKn][j of TWADeg]; NaN: refused by a limit, drawn hatched
}

// SettingMap is the best foil setting over true wind speed and angle.
type SettingMap struct {
	Name      string // of the chart; "best-setting-map" when empty
	Sea       string // optional: the sea in words, where it differs by wind
	Title     string
	HsM       float64
	TWSKn     []float64
	TWADeg    []float64
	Extension [][]float64 // [i of TWSKn][j of TWADeg]; 0: in
	RakeDeg   [][]float64
}

// SurgeChart is the net force along the course against boat speed, with its
// parts.
type SurgeChart struct {
	Title      string
	VKn        []float64
	NetN       []float64
	Parts      []SurgePart // forces forward positive, so drags are negative
	Equilibria []SurgeEquilibrium
}

// SurgePart is one named force of a surge curve.
type SurgePart struct {
	Name   string
	ForceN []float64
}

// SurgeEquilibrium is a zero of the net force.
type SurgeEquilibrium struct {
	VKn    float64
	Stable bool
	Note   string // "from below", "from above"
}

// BreakEvenMap is the break-even time of one action over true wind speed and
// angle.
type BreakEvenMap struct {
	Name   string // of the chart; "break-even-map" when empty
	Title  string
	Action string
	HsM    float64
	Sea    string // optional: the sea in words, where it differs by wind
	TWSKn  []float64
	TWADeg []float64
	// Minutes is indexed [i of TWSKn][j of TWADeg]; +Inf: never pays; NaN:
	// refused by a limit.
	Minutes [][]float64 `gaps:"nan inf"`
}

// LineChart is a plain chart of lines: scaling plots, sensitivity, arrival
// against departure. The labels carry units.
type LineChart struct {
	Title          string
	XLabel, YLabel string
	Lines          []Line
	LogX, LogY     bool
	ZeroLine       bool
}

// Line is one line of a LineChart.
type Line struct {
	Name string
	X, Y []float64
}

// SpeedsReport is what the page of a boat's speeds embeds: the whole table.
type SpeedsReport struct {
	Title, Boat, Version string
	Headline             string
	KeyNumbers           []KeyNumber // the three numbers that answer first
	Shape                BoatShape
	Settings             []FoilSetting // index 0: in
	TWSKn, TWADeg, HsM   []float64     // ascending axes
	// Cells is row-major over [setting][TWS][TWA][Hs]; the windward foil is in.
	Cells       []SpeedCell
	Assumptions []string
	Inputs      []Input
	Charts      []Chart     // optional
	Tables      []PageTable // optional
}

// Tornado is what each of several uncertain factors does to one value.
type Tornado struct {
	Name     string // of the chart; "sensitivity" when empty
	Title    string
	Quantity string  // name of the value with its unit
	Note     string  // optional
	Mid      float64 // the value with all factors as they are
	Bars     []TornadoBar
}

// TornadoBar is one factor: the value with the factor low and high, and how low
// and high in words.
type TornadoBar struct {
	Factor                string
	LowWords, HighWords   string // "0.90", "1.10"
	Low, High             float64
	LowRefused, HiRefused bool // no value there: a limit refuses the state
}

// FoilSetting is a leeward foil's setting.
type FoilSetting struct {
	Extension, RakeDeg float64
}

// SpeedCell is the solved boat in one condition.
type SpeedCell struct {
	OK                   bool // false: refused by RuledBy
	BSPKn                float64
	HeelDeg, TrimDeg     float64
	LeewayDeg, RiseM     float64
	HullLoad, FoilLiftT  float64
	BowImmersionsPerHour float64
	AboveKn              float64 // speed kept when coming from higher speed; 0: none but BSPKn
	RuledBy              string
	Outside              bool // the model leans on terms outside their range
	Sail                 string
}

// BoatShape is what the drawings from astern and abeam need, metres and
// degrees, with the static waterline as origin of heights.
type BoatShape struct {
	LengthM, BeamM              float64
	FreeboardM, DraftCanoeM     float64
	DeadriseDeg                 float64
	PlaningBeamM                float64
	WaterlineBeamM              float64
	BowFreeboardM, BowForwardM  float64 // the latter from the centre of gravity
	KeelArmM, KeelCantDeg       float64
	BulbLengthM, BulbDiameterM  float64
	FinChordM, MastHeightM      float64
	FoilRootOutM, FoilRootUpM   float64 // from the centreline, above the static waterline
	FoilRootForwardM            float64 // forward of the centre of gravity
	FoilSpanM, FoilChordM       float64 // at full extension
	FoilDihedralDeg             float64
	FoilTipSpanM                float64 // part of the span that is a tip panel
	FoilTipDihedralDeg          float64
	CentreOfGravityFromTransomM float64
}
