// Package strategy decides when the foils of a boat go out, come in and are
// re-raked on a passage, and accounts for the time that this gains.
//
// A foil state is the setting of both sides' foils. On a given track the board
// follows from the wind, so that the state of the decision is (stage, port
// setting, starboard setting) and the label is the earliest time of arrival.
// Sailing integrates the boat's speed along the stage in the moving forecast;
// changing the state costs what the boat's own surge curve makes it cost. The
// plan is the optimum of that discretised problem, the bound is the same search
// with changes that are free and instant. A schedule for a person (rests, spacing,
// effort, fewest changes) carries what its rules need in the labels. The ledger splits the time
// gained over a baseline into parts that sum to it.
package strategy
