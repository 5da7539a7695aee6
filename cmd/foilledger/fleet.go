package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"foilledger/vpp"
)

// fleet is the boat with foils and the boats that it is compared with.
type fleet struct {
	table   *vpp.Table // foils aboard
	without *vpp.Table // foils not aboard, their mass removed; nil when the boat has none
}

func buildFleet(ctx context.Context, boat *vpp.Boat, cache string, pr *progress) (*fleet, error) {
	f := &fleet{}
	build := func(b *vpp.Boat, what string) (*vpp.Table, error) {
		defer pr.start(what)()
		return speedTable(ctx, b, vpp.NoFactors(), vpp.DefaultGrid(), cache, pr.set)
	}
	var err error
	if f.table, err = build(boat, "speeds"); err != nil {
		return nil, err
	}
	if len(boat.Settings()) > 1 {
		if f.without, err = build(boat.WithoutFoils(), "speeds without foils"); err != nil {
			return nil, err
		}
	}
	return f, nil
}

// speedTable finds the speed table of a boat in the cache, or computes it. A
// cache that cannot be written is an error only where it was asked for.
func speedTable(ctx context.Context, boat *vpp.Boat, factors vpp.Factors, grid vpp.Grid, cache string, progress func(done, total int)) (*vpp.Table, error) {
	m, err := vpp.NewModel(boat, factors)
	if err != nil {
		return nil, err
	}
	dir := cacheFolder(cache)
	if dir == "" {
		return vpp.BuildTable(ctx, m, grid, progress)
	}
	t, _, err := vpp.CachedTable(ctx, dir, m, grid, progress)
	switch {
	case !errors.Is(err, vpp.ErrNotKept):
		return t, err
	case cache == "":
		return t, nil
	}
	return nil, &commandError{code: exitFailed, hint: "choose a folder that you may write, or --cache none", err: fmt.Errorf("--cache %s: %w", cache, err)}
}

// cacheFolder resolves --cache: a folder, or "" for none.
func cacheFolder(cache string) string {
	switch cache {
	case "none":
		return ""
	case "":
		dir, err := os.UserCacheDir()
		if err != nil { // no home folder: compute afresh
			return ""
		}
		return filepath.Join(dir, "foilledger")
	}
	return cache
}
