package main

import (
	"context"
)

// writeCourse fills the output folder and puts it in place.
func writeCourse(ctx context.Context, dest *folder, q *question, res *courseResult) error {
	return writeResult(ctx, dest, q, res.result)
}
