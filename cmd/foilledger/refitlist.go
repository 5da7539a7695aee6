package main

import (
	"os"
	"path/filepath"

	"foilledger/strategy/refit"
)

// baseVariant is the name of the boat as she is.
const baseVariant = "as she is"

// maxVariants keeps a slip in a sweep's step from asking for a week's work.
const maxVariants = 200

// list reads the variants asked for: those of --change, those of the file, and
// every combination of the sweeps of both. swept are the keys of the sweeps.
func (o *refitOptions) list() (vs []refit.Variant, swept []string, in []input, err error) {
	fail := func(err error) ([]refit.Variant, []string, []input, error) { return nil, nil, nil, err }
	for _, s := range o.changes {
		v, err := refit.ParseVariant(s)
		if err != nil {
			return fail(usage("write --change \"foils.area_m2=1.8,foils.span_m=2.9\"", "--change: %w", err))
		}
		vs = append(vs, v)
	}
	var sweeps []refit.Sweep
	if o.variants != "" {
		data, err := os.ReadFile(o.variants)
		if err != nil {
			return fail(err)
		}
		var more []refit.Variant
		if more, sweeps, err = refit.ReadVariants(data, o.variants); err != nil {
			return fail(usage("write [[variant]] tables with name and changes = { \"foils.area_m2\" = 1.8 }, or [[sweep]] tables with key and values", "%w", err))
		}
		vs = append(vs, more...)
		in = append(in, input{filepath.Base(o.variants), sha256Hex(data)})
	}
	for _, s := range o.sweeps {
		w, err := refit.ParseSweep(s)
		if err != nil {
			return fail(usage("write --sweep foils.span_m=2.2:3.4:0.4 or --sweep pump=cockpit,below", "--sweep: %w", err))
		}
		sweeps = append(sweeps, w)
	}
	pairs := min(len(sweeps), 1)
	for _, w := range sweeps {
		swept = append(swept, w.Key)
		pairs *= len(w.Values)
	}
	switch {
	case len(sweeps) > 2:
		return fail(usage("", "%d sweeps: at most two", len(sweeps)))
	case len(swept) == 2 && swept[0] == swept[1]:
		return fail(usage("", "both sweeps change %s", swept[0]))
	case len(vs)+pairs > maxVariants:
		return fail(usage("make the steps of the sweeps larger", "%d variants: at most %d", len(vs)+pairs, maxVariants))
	}
	if len(sweeps) > 0 {
		vs = append(vs, refit.Variants(sweeps)...)
	}
	seen := map[string]bool{baseVariant: true}
	for _, v := range vs {
		if seen[v.Name] {
			return fail(usage("", "there are two variants named %q", v.Name))
		}
		seen[v.Name] = true
	}
	return vs, swept, in, nil
}
