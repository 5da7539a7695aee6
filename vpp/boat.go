package vpp

import (
	"math"
	"slices"

	"foilledger/vpp/units"
)

// FoilSetting is the setting of the foil on one side.
type FoilSetting struct {
	Extension float64 // fraction of the foil's travel that is out; 0 is in
	RakeRad   float64 // angle by which the foil is raked nose up; 0 when in
}

// Boat is a boat file after parsing and checking. Everything is SI and radians;
// the file's units stand in its key names. Lengths along the boat (…XM) are
// measured from the centre of gravity, positive forward; heights (…ZM) from
// the static waterline, positive up; side distances (…YM) from the centreline.
//
// The tags drive the reader and the starter file: key is the key in the file,
// min and max its range in the file's unit, eg the starter file's value, opt
// marks a key that may be left out (the value given then holds), help explains
// it.
type Boat struct {
	Name       string     `key:"name" eg:"starter" help:"any text; appears in tables and charts"`
	Hull       Hull       `key:"hull" help:"the canoe body. Lengths along the boat are measured from the centre of gravity, forward positive; heights from the static waterline, up positive"`
	Keel       Keel       `key:"keel" help:"canting keel: fin and bulb"`
	Ballast    Ballast    `key:"ballast" help:"water ballast in the windward tank (0 kg when the boat has none), and a trim tank"`
	Appendages Appendages `key:"appendages" help:"rudders and side boards; the keel fin stands under [keel]"`
	Rig        Rig        `key:"rig" help:"mast, windage and sail sets"`
	Foils      *Foils     `key:"foils" help:"the pair of lateral foils, one each side; leave the section out for a boat without"`
	Limits     Limits     `key:"limits" help:"limits that a plan must respect"`
	Handling   Handling   `key:"handling" help:"what people on board can do, and how fast"`
}

// Hull is the canoe body, floating at the design displacement.
type Hull struct {
	DisplacementKg    float64 `key:"displacement_kg" min:"500" max:"60000" eg:"7600" help:"all-up mass with crew, stores and both foils (if any), without water ballast"`
	LengthWaterlineM  float64 `key:"length_waterline_m" min:"5" max:"40" eg:"17.6" help:"waterline length"`
	BeamWaterlineM    float64 `key:"beam_waterline_m" min:"1" max:"10" eg:"3.6" help:"waterline beam, upright"`
	DraftM            float64 `key:"draft_m" min:"0.1" max:"3" eg:"0.30" help:"draft of the canoe body, without appendages"`
	WaterplaneAreaM2  float64 `key:"waterplane_area_m2" min:"4" max:"250" eg:"42" help:"static waterplane area"`
	Prismatic         float64 `key:"prismatic_coefficient" min:"0.45" max:"0.75" eg:"0.57" help:"prismatic coefficient Cp of the canoe body"`
	Midship           float64 `key:"midship_coefficient" min:"0.5" max:"0.95" eg:"0.74" help:"midship section coefficient Cm"`
	LCBFraction       float64 `key:"lcb_fraction" min:"0.45" max:"0.62" eg:"0.575" help:"centre of buoyancy aft of the forward end of the waterline, as a fraction of its length"`
	LCFFraction       float64 `key:"lcf_fraction" min:"0.45" max:"0.65" eg:"0.6" help:"centre of the waterplane aft of the forward end of the waterline, as a fraction of its length"`
	PlaningBeamM      float64 `key:"planing_beam_m" min:"0.5" max:"8" eg:"3.1" help:"beam of the bottom that planes"`
	DeadriseRad       float64 `key:"deadrise_deg" min:"0" max:"30" eg:"7" help:"deadrise of the planing bottom"`
	RunAngleRad       float64 `key:"run_angle_deg" min:"-1" max:"8" eg:"1.2" help:"angle of the planing bottom to the water when the boat floats at its design trim, bow up"`
	CGFromTransomM    float64 `key:"cg_from_transom_m" min:"1" max:"30" eg:"7.2" help:"centre of gravity forward of the transom"`
	CGHeightM         float64 `key:"cg_height_m" min:"-5" max:"4" eg:"-0.9" help:"height of the centre of gravity above the static waterline, keel centred"`
	GMM               float64 `key:"metacentric_height_m" min:"0.3" max:"12" eg:"2.25" help:"metacentric height GM at small heel, keel centred"`
	GZFormLimitM      float64 `key:"form_shift_limit_m" min:"0.2" max:"5" eg:"1.05" help:"greatest sideways shift of the centre of buoyancy (soft limit of the form part of the righting arm)"`
	BowXM             float64 `key:"bow_x_m" min:"2" max:"25" eg:"9.5" help:"bow forward of the centre of gravity"`
	BowFreeboardM     float64 `key:"bow_freeboard_m" min:"0.3" max:"5" eg:"1.75" help:"height of the deck at the bow above the water, at design trim"`
	BowEntranceM      float64 `key:"bow_entrance_m" min:"0.5" max:"20" eg:"7.0" help:"length from the forward end of the waterline to where 95 % of the beam is reached"`
	PitchGyradiusM    float64 `key:"pitch_gyradius_m" min:"0.5" max:"12" eg:"4.4" help:"radius of gyration in pitch (reported only)"`
	Roughness         float64 `key:"roughness_allowance" min:"0" max:"0.002" opt:"0.0004" eg:"0.0004" help:"addition to the friction coefficient of hull and appendages; 0.0004 is usual (Tupper, Introduction to Naval Architecture)"`
	AddedMassFraction float64 `key:"added_mass_fraction" min:"0" max:"0.5" opt:"0.06" eg:"0.06" help:"mass of water that moves with the hull in surge, as a fraction of the displacement"`
}

// Keel is the fin with its bulb, canting about an axis near the hull bottom.
type Keel struct {
	BulbKg      float64 `key:"bulb_kg" min:"0" max:"20000" eg:"2900" help:"canting mass (bulb and the moving share of the fin)"`
	ArmM        float64 `key:"arm_m" min:"0.5" max:"7" eg:"4.0" help:"distance from the cant axis to the centre of that mass"`
	MaxCantRad  float64 `key:"max_cant_deg" min:"0" max:"60" eg:"38" help:"greatest cant to windward; 0 for a fixed keel"`
	FinSpanM    float64 `key:"fin_span_m" min:"0.3" max:"7" eg:"3.7" help:"span of the fin from hull to bulb"`
	FinChordM   float64 `key:"fin_chord_m" min:"0.1" max:"3" eg:"0.62" help:"mean chord of the fin"`
	FinTC       float64 `key:"fin_thickness_ratio" min:"0.05" max:"0.3" eg:"0.14" help:"thickness over chord of the fin"`
	FinXM       float64 `key:"fin_x_m" min:"-5" max:"5" eg:"0.6" help:"fin forward of the centre of gravity"`
	BulbLengthM float64 `key:"bulb_length_m" min:"0.3" max:"8" eg:"3.0" help:"length of the bulb"`
	BulbDiamM   float64 `key:"bulb_diameter_m" min:"0.05" max:"2" eg:"0.42" help:"mean diameter of the bulb"`
}

// Ballast is the water ballast.
type Ballast struct {
	MassKg     float64 `key:"mass_kg" min:"0" max:"10000" eg:"2000" help:"water in the full windward tank"`
	YM         float64 `key:"y_m" min:"0" max:"4" eg:"2.1" help:"centre of the tank to windward of the centreline"`
	XM         float64 `key:"x_m" min:"-12" max:"8" eg:"-5" help:"centre of the tank forward of the centre of gravity (negative is aft)"`
	ZM         float64 `key:"z_m" min:"-1" max:"3" eg:"0.4" help:"centre of the tank above the static waterline"`
	TrimMassKg float64 `key:"trim_mass_kg" min:"0" max:"5000" opt:"0" eg:"0" help:"water in the trim tank; 0 when the boat has none"`
	TrimXM     float64 `key:"trim_x_m" min:"-15" max:"10" opt:"-6" eg:"-6" help:"centre of the trim tank forward of the centre of gravity (negative is aft)"`
}

// Appendages are the lifting surfaces under the hull, other than the keel fin.
type Appendages struct {
	Rudder Rudder  `key:"rudder" help:"one rudder of a pair; the leeward one works, the windward one is lifted"`
	Board  Surface `key:"board" help:"leeward side board; span_m = 0 when the boat has none"`
	// BoardWithFoil is the share of the board's span that stays down when the
	// leeward foil is all the way out.
	BoardWithFoil float64 `key:"board_with_foil" min:"0" max:"1" opt:"1" eg:"0.5" help:"share of the board's span that stays down when the leeward foil, which makes side force too, is all the way out"`
}

// Surface is one board.
type Surface struct {
	SpanM   float64 `key:"span_m" min:"0" max:"6" eg:"2.2" help:"immersed span"`
	ChordM  float64 `key:"chord_m" min:"0.05" max:"3" eg:"0.5" help:"mean chord"`
	TC      float64 `key:"thickness_ratio" min:"0.05" max:"0.3" eg:"0.12" help:"thickness over chord"`
	XM      float64 `key:"x_m" min:"-25" max:"20" eg:"0.5" help:"forward of the centre of gravity"`
	YM      float64 `key:"y_m" min:"0" max:"5" eg:"1.6" help:"root off the centreline, leeward side"`
	CantRad float64 `key:"cant_deg" min:"0" max:"40" eg:"12" help:"tip outward from the vertical, boat upright (about the working heel makes it vertical when sailing)"`
}

// Rudder is one rudder: a surface whose usual place, as the starter file has it, is aft.
type Rudder struct {
	SpanM   float64 `key:"span_m" min:"0" max:"6" eg:"2.2" help:"immersed span"`
	ChordM  float64 `key:"chord_m" min:"0.05" max:"3" eg:"0.5" help:"mean chord"`
	TC      float64 `key:"thickness_ratio" min:"0.05" max:"0.3" eg:"0.12" help:"thickness over chord"`
	XM      float64 `key:"x_m" min:"-25" max:"20" eg:"-6.4" help:"forward of the centre of gravity"`
	YM      float64 `key:"y_m" min:"0" max:"5" eg:"1.4" help:"root off the centreline, leeward side"`
	CantRad float64 `key:"cant_deg" min:"0" max:"40" eg:"12" help:"tip outward from the vertical, boat upright (about the working heel makes it vertical when sailing)"`
}

// Rig is mast, windage and sails.
type Rig struct {
	MastHeightM     float64    `key:"mast_height_m" min:"5" max:"60" eg:"27.5" help:"masthead above the water"`
	DeckHeightM     float64    `key:"deck_height_m" min:"0.2" max:"6" eg:"1.4" help:"mean height of the deck above the water"`
	WindageAreaM2   float64    `key:"windage_area_m2" min:"0" max:"100" eg:"16" help:"drag area (area times drag coefficient) of hull, mast and rigging in the wind"`
	WindageHeightM  float64    `key:"windage_height_m" min:"0" max:"30" eg:"5" help:"height of its centre above the water"`
	TwistDrop       float64    `key:"twist_drop" min:"0" max:"0.5" opt:"0.15" eg:"0.15" help:"share by which the centre of effort falls when the sails are depowered to nothing (twist)"`
	MinDepower      float64    `key:"min_depower" min:"0.1" max:"1" opt:"0.4" eg:"0.4" help:"smallest lift fraction to which a sail set can be depowered; below it the boat is overpowered"`
	WindExponent    float64    `key:"wind_exponent" min:"0" max:"0.3" opt:"0.11" eg:"0.11" help:"exponent of the wind profile over the sea"`
	SailSets        []SailSet  `key:"sail_set" help:"one table for each sail set; reefs are sail sets of their own"`
	CoefficientSets []SailType `key:"sail_type" opt:"" help:"own coefficient tables for a headsail type; the built-in types are main, jib, reacher, spinnaker"`
}

// SailSet is one combination of sails.
type SailSet struct {
	Name           string  `key:"name" eg:"full main + jib" help:"any text"`
	MainAreaM2     float64 `key:"main_area_m2" min:"0" max:"800" eg:"165" help:"area of the mainsail as reefed"`
	HeadsailAreaM2 float64 `key:"headsail_area_m2" min:"0" max:"1500" eg:"105" help:"area of the headsail"`
	Headsail       string  `key:"headsail" eg:"jib" help:"type of headsail: jib, reacher, spinnaker, or a sail_type of your own"`
	CEHeightM      float64 `key:"ce_height_m" min:"1" max:"40" eg:"11.5" help:"centre of effort above the water"`
	EffHeightM     float64 `key:"effective_height_m" min:"2" max:"80" eg:"29" help:"effective height of the sail plan; effective aspect ratio = its square / sail area (1.1 times the height from sea to head is common practice)"`
	MaxTWSMS       float64 `key:"max_tws_kn" min:"1" max:"200" opt:"200" eg:"200" help:"strongest true wind in which the set is carried"`
}

// SailType is a coefficient table against apparent wind angle.
type SailType struct {
	Name   string    `key:"name" eg:"reacher" help:"name that sail_set.headsail refers to"`
	AWARad []float64 `key:"awa_deg" min:"0" max:"180" eg:"[0, 27, 50, 80, 100, 180]" help:"apparent wind angles, rising from 0 to 180"`
	CL     []float64 `key:"cl" min:"0" max:"4" eg:"[0, 1.4, 1.4, 1.0, 0.7, 0]" help:"lift coefficients at those angles"`
	CD     []float64 `key:"cd" min:"0" max:"4" eg:"[0, 0.04, 0.18, 0.45, 0.6, 0.3]" help:"parasitic drag coefficients at those angles"`
}

// Foils is the pair of lateral foils, mirror images of each other.
type Foils struct {
	AreaM2        float64   `key:"area_m2" min:"0.05" max:"20" eg:"1.45" help:"planform area of one foil, fully out"`
	SpanM         float64   `key:"span_m" min:"0.2" max:"10" eg:"2.6" help:"length of one foil along itself, fully out; chord = area / span"`
	DihedralRad   float64   `key:"dihedral_deg" min:"0" max:"60" eg:"28" help:"angle of the foil above the horizontal, boat upright, outer end up"`
	RootXM        float64   `key:"root_x_m" min:"-8" max:"10" eg:"3.0" help:"root forward of the centre of gravity"`
	RootYM        float64   `key:"root_y_m" min:"0.2" max:"6" eg:"2.5" help:"root off the centreline"`
	RootZM        float64   `key:"root_z_m" min:"-2" max:"2" eg:"-0.1" help:"root above the static waterline, boat upright"`
	TipSpanM      float64   `key:"tip_span_m" min:"0" max:"6" opt:"0" eg:"0" help:"part of the span that is a tip panel with a dihedral of its own; 0 for a straight foil"`
	TipDihedral   float64   `key:"tip_dihedral_deg" min:"-30" max:"90" opt:"60" eg:"60" help:"dihedral of the tip panel"`
	TC            float64   `key:"thickness_ratio" min:"0.05" max:"0.25" eg:"0.12" help:"thickness over chord"`
	MaxThickX     float64   `key:"max_thickness_x" min:"0.2" max:"0.6" opt:"0.4" eg:"0.4" help:"place of the greatest thickness, fraction of chord"`
	ZeroLiftRad   float64   `key:"zero_lift_deg" min:"-8" max:"2" opt:"-2.6" eg:"-3" help:"zero-lift angle of the section; -2.6 suits a 12 % laminar section with design lift 0.4 (from memory of Abbott & von Doenhoff 1959)"`
	SectionSlope  float64   `key:"section_slope_per_deg" min:"0.06" max:"0.12" opt:"0.105" eg:"0.105" help:"section lift slope"`
	DesignCL      float64   `key:"design_cl" min:"0" max:"0.8" opt:"0.4" eg:"0.4" help:"lift coefficient at which the section drags least"`
	MinDrag       float64   `key:"section_drag" min:"0.003" max:"0.02" opt:"0.0068" eg:"0.0068" help:"profile drag coefficient of the section at its design lift, at Reynolds number 6 million; smooth 0.0045, standard roughness 0.0095 for a 12 % laminar section (Abbott & von Doenhoff 1959, from memory)"`
	MaxCL         float64   `key:"max_cl" min:"0.5" max:"2" opt:"1.3" eg:"1.3" help:"greatest section lift coefficient (stall)"`
	VentAngleRad  float64   `key:"ventilation_angle_deg" min:"3" max:"25" opt:"12" eg:"12" help:"angle above zero lift at which a foil one chord deep draws air at low speed; stated limit, from memory"`
	MassKg        float64   `key:"mass_kg" min:"0" max:"2000" eg:"160" help:"mass of one foil"`
	Extensions    []float64 `key:"extension_steps" min:"0.05" max:"1" eg:"[1.0]" help:"fractions of the travel at which the foil can be set, rising; in (0) is always possible"`
	RakesRad      []float64 `key:"rake_grid_deg" min:"-5" max:"15" eg:"[0, 1, 2, 3, 4, 5]" help:"rakes to consider, rising, within the limits below"`
	MinRakeRad    float64   `key:"min_rake_deg" min:"-5" max:"10" eg:"0" help:"lower rake limit"`
	MaxRakeRad    float64   `key:"max_rake_deg" min:"-4" max:"15" eg:"5" help:"upper rake limit"`
	AirDragCoeff  float64   `key:"air_drag_coefficient" min:"0" max:"2" opt:"0.3" eg:"0.3" help:"drag coefficient of the part that stands in the air, on its planform area"`
	SurfaceSmearM float64   `key:"wave_smear_m" min:"0.02" max:"1" opt:"0.10" eg:"0.10" help:"height over which the water surface is blurred in flat water (ripples, bow wave)"`
}

// Limits are the limits that a plan must respect.
type Limits struct {
	MaxHeelRad                 float64 `key:"max_heel_deg" min:"5" max:"45" eg:"20" help:"heel at which the crew eases the sails"`
	MaxFoilLoadN               float64 `key:"max_foil_load_tf" min:"0.2" max:"100" eg:"5.2" help:"greatest force normal to one foil, gusts included (1 tf = 9806.65 N)"`
	MaxBowImmersionsPerHour    float64 `key:"max_bow_immersions_per_hour" min:"0" max:"2000" eg:"60" help:"above it the crew slows down"`
	MaxFoilsOutTWSMS           float64 `key:"max_foils_out_tws_kn" min:"5" max:"80" eg:"38" help:"strongest true wind for foils out"`
	MaxFoilsOutHsM             float64 `key:"max_foils_out_hs_m" min:"0.5" max:"15" eg:"5.5" help:"greatest significant wave height for foils out"`
	WaveLoadDeviations         float64 `key:"wave_load_deviations" min:"0" max:"4" opt:"1" eg:"1" help:"how many standard deviations of the waves' load on the foil are added when its load is checked"`
	GustFactor                 float64 `key:"gust_factor" min:"1" max:"2" opt:"1.15" eg:"1.15" help:"a gust is taken to raise boat speed by up to this factor; loads are checked there"`
	ImmersionSpeedLossFraction float64 `key:"immersion_speed_loss" min:"0" max:"0.6" opt:"0.12" eg:"0.12" help:"share of boat speed lost in one bow immersion"`
}

// Handling says what people on board can do, and how fast.
type Handling struct {
	DeployCeilingMS      float64 `key:"deploy_ceiling_kn" min:"1" max:"60" eg:"10" help:"boat speed above which a foil cannot be put out"`
	RetractCeilingMS     float64 `key:"retract_ceiling_kn" min:"1" max:"60" eg:"10" help:"boat speed above which a foil cannot be taken in"`
	AddRakeCeilingMS     float64 `key:"add_rake_ceiling_kn" min:"1" max:"60" eg:"20" help:"boat speed above which rake cannot be added by hand pump"`
	TakeOffRakeCeilingMS float64 `key:"take_off_rake_ceiling_kn" min:"1" max:"60" eg:"30" help:"boat speed above which rake cannot be taken off"`
	DeployWorkJ          float64 `key:"deploy_work_kj" min:"0" max:"1000" eg:"18" help:"work to put a foil out over its full travel"`
	RetractWorkJ         float64 `key:"retract_work_kj" min:"0" max:"1000" eg:"22" help:"work to take a foil in over its full travel"`
	RakeWorkJPerRad      float64 `key:"rake_work_kj_per_deg" min:"0" max:"200" eg:"1.2" help:"work to change rake, foil unloaded"`
	RakeLoadWorkJPerRadN float64 `key:"rake_load_work_kj_per_deg_per_tf" min:"0" max:"200" eg:"0.6" help:"extra work to add rake, per tonne-force of foil load"`
	SustainedPowerW      float64 `key:"sustained_power_w" min:"5" max:"2000" eg:"100" help:"what one sailor sustains at winch or pump for minutes"`
	MaxPumpLoadN         float64 `key:"max_pump_load_tf" min:"0" max:"100" eg:"4" help:"foil load above which no person can add rake"`
	ReachFoilS           float64 `key:"reach_foil_s" min:"0" max:"3600" eg:"20" help:"time to reach the foil's winch, each way"`
	ReachPumpS           float64 `key:"reach_pump_s" min:"0" max:"3600" eg:"15" help:"time to reach the rake pump, each way"`
	EasedPower           float64 `key:"eased_power" min:"0" max:"1" eg:"0.3" help:"share of the sails' force left when eased to slow down"`
	TackS                float64 `key:"tack_s" min:"0" max:"3600" eg:"90" help:"time in a tack with the sails not driving"`
	GybeS                float64 `key:"gybe_s" min:"0" max:"3600" eg:"100" help:"time in a gybe with the sails not driving"`
	UnattendedSpeed      float64 `key:"unattended_speed" min:"0.5" max:"1" opt:"0.97" eg:"0.97" help:"share of the steady boat speed that is left while the crew is busy and nobody trims"`
	SettleS              float64 `key:"settle_s" min:"0" max:"3600" eg:"60" help:"time to settle after a change before the next"`
}

// ChordM is the foil's mean chord.
func (f *Foils) ChordM() float64 { return f.AreaM2 / f.SpanM }

// WithoutFoils returns the same boat with the foils left ashore: their mass is
// gone and the hull floats that much higher.
func (b *Boat) WithoutFoils() *Boat {
	c := *b
	if b.Foils != nil {
		c.Hull.DisplacementKg -= 2 * b.Foils.MassKg
		c.Foils = nil
		c.Name = b.Name + ", foils ashore"
	}
	return &c
}

// Settings lists the settings of a leeward foil: index 0 is in, then by
// extension, then by rake.
func (b *Boat) Settings() []FoilSetting {
	s := []FoilSetting{{}}
	if b.Foils == nil {
		return s
	}
	for _, e := range b.Foils.Extensions {
		for _, r := range b.Foils.RakesRad {
			s = append(s, FoilSetting{e, r})
		}
	}
	return s
}

// Extensions lists the extensions of a windward foil: index 0 is in.
func (b *Boat) Extensions() []float64 {
	if b.Foils == nil {
		return []float64{0}
	}
	return append([]float64{0}, b.Foils.Extensions...)
}

// idleSetting is the windward foil at extension e as the speed table takes it:
// at the rake nearest to 0, as it waits for its turn.
func (b *Boat) idleSetting(e float64) FoilSetting {
	if e == 0 || b.Foils == nil {
		return FoilSetting{}
	}
	r := slices.MinFunc(b.Foils.RakesRad, func(x, y float64) int {
		switch d := math.Abs(x) - math.Abs(y); {
		case d < 0:
			return -1
		case d > 0:
			return 1
		}
		return 0
	})
	return FoilSetting{e, r}
}

func tonnesForce(tf float64) float64 { return tf * units.G * units.KgPerTonne }
