// Package vpp is the boat: how fast a 60-foot monohull sails in each foil state,
// and how fast it speeds up and slows down.
//
// # What it computes
//
// At a given boat speed four balances are solved for heel (or easing of the
// sails, once the heel limit is reached), leeway, trim and the share of the
// weight that the hull still carries; what is left over is the net force along
// the track. Followed over speed that is the surge curve. Where it falls through
// zero the boat is steady; what it is elsewhere, over the mass, is acceleration.
// Sails, keel cant and water ballast are the fastest of those in the boat file.
// A [Table] keeps all this over foil states, wind and sea.
//
// # What this model can tell you
//
//   - The order of foil states in a given wind and sea, and about where one
//     overtakes another. The forces that decide it (righting moment from the foil,
//     weight off the hull, drag of foil and fins, the surface near the foil) are
//     computed from geometry, with published formulas.
//   - Why: [Point] has the forces and [Model.SurgeParts] the resistance by parts, at
//     any speed; [Model.Equilibria] all the steady states; RuledBy the limit that
//     decided.
//   - What a slow-down costs, since the same surge curve gives the speed and the
//     acceleration.
//   - How sure it is: [Model.Sensitivity] gives the speed at both ends of every
//     [FactorRange], and [Point.Lean] the terms that stand outside the range of
//     their source. Differences between foil states are surer than speeds, because
//     most errors are common to both.
//   - Take-off and touch-down: [Model.Flight]. Between the two winds the boat keeps
//     the state that it is in.
//
// # What it cannot tell you
//
//   - The speed of a real boat to better than a knot or so. No measured polar of
//     such a boat was at hand; the bands that the tests hold the model to are common
//     practice, and the boats are invented.
//   - Anything about a hull outside the Delft series without leaning on it: a wide,
//     light hull lies outside in length over volume and beam over draft at almost
//     every point below planing, and [Point.Lean] says so.
//   - Planing at the low trims (under 2°) at which fast sailing hulls run: Savitsky's
//     equations are continued there, with a forebody that pushes back. The sign is
//     right; the size is an assumption.
//   - Motion. All states are steady and all waves are statistics: no slamming, no
//     surfing, no broach, no pitch-pole, no crew mistakes. A following sea neither
//     helps nor hinders on average, while real boats gain by surfing and lose by
//     running into the wave ahead. Foils in waves are quasi-steady: orbital velocity
//     changes their angle of attack, the passing surface their immersion, both
//     Gaussian; the boat is taken to follow waves longer than five lengths and no
//     others.
//   - Flat water in a strong wind is a limit that the sea does not offer: speeds of
//     35 knots and more in the tables for no sea say what the equations say, not
//     what a boat will average. In 22 to 30 kn of wind at 110° to 125° and seas of
//     2 to 4 m foil load, gusts and waves counted, and heel hold the big foils to 26
//     to 34 kn and the small ones to 22 to 25.
//   - Ventilation and cavitation as events. They are stated soft limits on the angle
//     of attack and the lift coefficient; the real ones are sudden and have memory.
//   - Foil structure: bending and twist under load are in the uncertainty of the
//     foil's lift only. The load limit is the boat file's, not computed.
//   - Sail shape: one coefficient table per type of sail, from memory, for rigs of the
//     time of its source; the reacher's is invented. An eased sail is taken to lose
//     separation drag as it loses lift. Speed dents where no sail in the boat file
//     fits between two others, by up to 0.8 kn from reacher to spinnaker: that is
//     the wardrobe, not the water.
//   - The last bit of the best choice. Of 4400 random points 21 have another set of
//     sails, cant or ballast that drives better at the speed found, most of them next
//     to the smallest lift fraction (min_depower), by 1 kn at worst. Where the load
//     limit holds the boat, sails are those that drive most, not those that load the
//     foil least: another set would be faster by 0.1 kn in the middle of 150 such
//     points, by 1 to 1.5 kn in a tenth; at the best rake by 0.13 kn in a tenth.
//   - Close to the wind (apparent wind under 27°), and at walking pace, where fins
//     stall and a cross-flow term keeps a solution in existence.
//   - Currents, wind shear beyond a power law, air other than 15 °C at the sea's
//     surface, water other than salt at 15 °C.
//   - The windward foil when it is out: in a [Table] it is a correction computed on
//     every other grid point for one leeward rake per extension. Against direct
//     solves of 1500 points for each boat, 6 to 28 kn and seas to 4 m, where there is
//     one branch, 95 % of what that foil costs are within 0.13 kn (small foils; worst
//     1.2) and 0.18 kn (big; worst 1.5); the speed itself within 0.18 and 0.28 kn,
//     with that foil in within 0.10 and 0.13. [Model.Solve] has it in full.
//
// # Figures that raise an eyebrow
//
// Big foils in 28 kn of wind at 125° and flat water do 37.6 kn. Sails drive with
// 17.9 kN; windage takes 1.8, hull 0.7, fins 10.1 (most of it friction on 9 m² and
// the bulb), the foil 5.3. The foil carries 7.1 tf of its 10.5. Its suction peak,
// −Cp,min = 0.48 at CL 0.18, is just below the cavitation number, 0.53: the soft
// limit takes 13 % of its lift there. So there is a ceiling: at this lift the two
// meet at 39 to 40 kn. Fins 14 % thick would follow at 40 to 43 kn (1 to 2 m deep, no
// lift); no cavity on fins is modelled, and the table ends at 40 kn.
//
// Bearing away with foils in, speed falls steeply near 135°: in 18 kn of wind from
// 18.1 to 16.2 kn between 134° and 134¾°. It is one steady state, not two, and the
// best sails, cant and ballast are found on both sides. From 15.5 to 18.5 kn the
// resistance of a hull that comes on the plane and the drive of the reacher, whose
// wind goes forward from 74° to 64° as the boat speeds up, rise alike by 2 kN: the
// net force stays within 0.3 % of the weight, and a turn of a degree, 0.3 kN, takes
// the boat off the plane. The fall is surer than its angle.
//
// Small foils pay on a beam reach from about 10 kn of boat speed, in 6.6 kn of wind
// with all sails set. Below, the boat does not heel to its limit, and righting
// moment buys nothing: at 8.3 kn in 5 kn of wind the foil costs 146 N (profile 89,
// waves and induced 43, spray 10) of 2.2 kN, and gives back 77 N of board that is
// lifted and 44 N of hull. With half the foil drag it would pay from 8 kn. The
// profile drag is that of a section at its Reynolds number, 2 million, the waves
// Breslin's; neither is in doubt by a factor of two. At 110° and in light air the
// two are within 0.1 kn of each other. What counts is when the boat has more sail
// than it can stand up to, and only through that the speed.
//
// # Branches
//
// Speed is continuous in wind, angle and rake except where a branch is declared to
// change: a steady state appears or vanishes (take-off, and the collapse of the
// apparent wind when a fast boat bears away too far), or RuledBy changes to or from
// a limit. Speeds "reached from below" are those of a boat that speeds up from low
// speed and does not sail through an overload of its foil; [Model.SolveAbove] and
// [Table.AtAbove] give the state that is kept from above.
//
// The tool does not replace seamanship, nor the limits set by designer and foil
// maker.
package vpp
