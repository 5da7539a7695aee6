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
//     what a boat will average. In the sea that the wind raises the foil load, gusts
//     and waves counted, holds the same boat to 25 to 30.
//   - Ventilation and cavitation as events. They are stated soft limits on the angle
//     of attack and the lift coefficient; the real ones are sudden and have memory.
//   - Foil structure: bending and twist under load are in the uncertainty of the
//     foil's lift only. The load limit is the boat file's, not computed.
//   - Sail shape: one coefficient table per type of sail, from memory, for rigs of the
//     time of its source; the reacher's is invented. An eased sail is taken to lose
//     separation drag as it loses lift. Speed dents where no sail in the boat file
//     fits between two others, by up to 0.8 kn from reacher to spinnaker: that is
//     the wardrobe, not the water.
//   - Close to the wind (apparent wind under 27°), and at walking pace, where fins
//     stall and a cross-flow term keeps a solution in existence.
//   - Currents, wind shear beyond a power law, air other than 15 °C at the sea's
//     surface, water other than salt at 15 °C.
//   - The windward foil when it is out: in a [Table] it is a correction computed on
//     every other grid point for one leeward rake per extension. [Model.Solve] has
//     it in full.
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
