// Package refit compares variants of a boat over the same passages and
// weathers: what each gains, why, how sure that is, and what one more unit of a
// dimension is worth.
//
// A variant is a list of changes to the base boat's file. All variants meet the
// same weathers and, in samples of the model's uncertain factors, the same
// factors, so that differences are sharp.
package refit
