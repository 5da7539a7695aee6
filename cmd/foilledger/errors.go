package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"syscall"
	"time"

	"foilledger/vpp"
	"foilledger/weather"
	"foilledger/weather/grib"
)

// Exit codes, as listed in every help text and in README.md.
const (
	exitDone      = 0
	exitFailed    = 1
	exitUsage     = 2
	exitNoPassage = 3
	exitCancelled = 130
)

const exitCodes = "Exit codes: 0 done, 1 failed, 2 usage or configuration, 3 a valid question with a negative answer (no feasible passage), 130 cancelled."

// commandError is an error for the person at the terminal: what is wrong, what
// to do next, and the exit code.
type commandError struct {
	code int
	hint string
	err  error
}

func (e *commandError) Error() string { return e.err.Error() }
func (e *commandError) Unwrap() error { return e.err }

// usage makes an error of wrong words on the command line.
func usage(hint, format string, a ...any) error {
	return &commandError{code: exitUsage, hint: hint, err: fmt.Errorf(format, a...)}
}

// explain maps any error to its exit code and hint; the one place that does.
func explain(err error) *commandError {
	var ce *commandError
	if errors.As(err, &ce) {
		return ce
	}
	out := &commandError{code: exitFailed, err: err}
	var (
		file     *vpp.FileError
		coverage *weather.CoverageError
		noWind   *weather.NoWindError
		foreign  *grib.NotGRIBError
		path     *fs.PathError
	)
	switch {
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		out.code = exitCancelled
		out.err = errors.New("cancelled; no result was written")
	case errors.As(err, &file):
		out.code = exitUsage
		out.hint = file.Hint
		out.err = errors.New(strings.Replace(err.Error(), " ("+file.Hint+")", "", 1)) // it stands below
	case errors.As(err, &coverage):
		out.code = exitNoPassage
		switch coverage.Kind {
		case weather.AfterLast:
			out.hint = "use a longer forecast, or add --after-end hold to keep the last step's weather after its end"
		case weather.BeforeFirst:
			out.hint = "depart at or after " + coverage.First.UTC().Format(time.RFC3339)
		case weather.OutsideArea:
			out.hint = swapped(coverage) + "use a forecast that covers the whole track, or add one for the missing area with another --forecast"
		case weather.Missing:
			out.hint = "the forecast has no value there (land or ice); move the waypoint, or use a finer forecast"
		}
	case errors.As(err, &noWind):
		out.hint = "give a file with the wind at 10 m (u and v, or speed and direction)"
	case errors.As(err, &foreign):
		out.code = exitUsage
		out.hint = "give GRIB edition 1 or 2 or NetCDF (classic, 64-bit offset or CDF-5) files"
	case errors.As(err, &path):
		out.err = errors.New(strings.Replace(err.Error(), path.Error(), path.Path+": "+path.Err.Error(), 1))
		if errors.Is(err, fs.ErrNotExist) || errors.Is(err, syscall.EISDIR) {
			out.code = exitUsage
			out.hint = "check the path"
		}
	}
	return out
}

// swapped asks whether latitude and longitude are, when the forecast covers the
// place with the two exchanged.
func swapped(c *weather.CoverageError) string {
	if c.Bounds.Contains(c.LatDeg, c.LonDeg) {
		return "are latitude and longitude swapped? latitude comes first; or "
	}
	return ""
}

// report writes an error to errOut, as text or as one JSON object.
func report(errOut io.Writer, asJSON bool, e *commandError) {
	if asJSON {
		_ = json.NewEncoder(errOut).Encode(struct {
			Error string `json:"error"`
			Hint  string `json:"hint"`
			Code  int    `json:"code"`
		}{e.Error(), e.hint, e.code})
		return
	}
	lines := []string{"foilledger: " + e.Error()}
	if e.hint != "" {
		lines = append(lines, "  hint: "+e.hint)
	}
	for _, l := range lines {
		if isTerminal(errOut) && !strings.Contains(l, "\n") {
			l = wrap(l, helpWidth, "        ")
		}
		fmt.Fprintln(errOut, l)
	}
}
