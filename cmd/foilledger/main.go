// Command foilledger plans when a foiling monohull puts its foils out, takes
// them in and re-rakes them on an ocean passage, and accounts for the time that
// this gains.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}
