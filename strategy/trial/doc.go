// Package trial runs foil policies over many weathers and says which is better,
// by how much, and how sure that is.
//
// A weather is what a passage is sailed in (the truth) and what was forecast
// before and under way. Every policy sails every weather, so that differences
// are between runs in the same weather. The work is cut into numbered jobs that
// run on several cores or machines in any order, are kept in a journal as they
// are done, and give the same bytes however they were run.
package trial
