package strategy

import (
	"fmt"

	"foilledger/vpp"
	"foilledger/vpp/units"
)

// State is the foil state of the boat: for each side an index into the boat's
// settings, where 0 is in.
type State struct {
	Port, Starboard uint8
}

// Side is a side of the boat.
type Side uint8

// The sides of the boat.
const (
	Port Side = iota
	Starboard
)

func (s Side) String() string {
	if s == Port {
		return "port"
	}
	return "starboard"
}

// On returns the setting of one side.
func (s State) On(side Side) uint8 {
	if side == Port {
		return s.Port
	}
	return s.Starboard
}

// With returns the state with one side's setting replaced.
func (s State) With(side Side, setting uint8) State {
	if side == Port {
		s.Port = setting
	} else {
		s.Starboard = setting
	}
	return s
}

// Out reports whether any foil is out.
func (s State) Out() bool { return s.Port != 0 || s.Starboard != 0 }

// States lists the foil states that a plan may use.
type States struct {
	settings []vpp.FoilSetting
	extIndex []int // index into the boat's extensions, by setting
	exts     int   // number of extensions, in included
	all      []State
}

// NewStates enumerates every pair of settings, port first; the state with both
// foils in has index 0. An error says when the settings' extensions are not
// among extensions or when there are more than 256 settings.
func NewStates(settings []vpp.FoilSetting, extensions []float64) (*States, error) {
	if len(settings) == 0 || len(settings) > 256 {
		return nil, fmt.Errorf("strategy: %d foil settings, want 1 to 256", len(settings))
	}
	s := &States{settings: settings, extIndex: make([]int, len(settings)), exts: len(extensions)}
	for i, f := range settings {
		s.extIndex[i] = -1
		for j, e := range extensions {
			if f.Extension == e {
				s.extIndex[i] = j
			}
		}
		if s.extIndex[i] < 0 {
			return nil, fmt.Errorf("strategy: setting %d has extension %g, which is not among the boat's extensions %v", i, f.Extension, extensions)
		}
	}
	for p := range settings {
		for q := range settings {
			s.all = append(s.all, State{uint8(p), uint8(q)})
		}
	}
	return s, nil
}

// All returns every state; the caller must not change it.
func (s *States) All() []State { return s.all }

// Index returns the place of st in All.
func (s *States) Index(st State) int { return int(st.Port)*len(s.settings) + int(st.Starboard) }

// Len returns the number of settings of one foil.
func (s *States) Len() int { return len(s.settings) }

// Setting returns the foil setting with index i.
func (s *States) Setting(i uint8) vpp.FoilSetting { return s.settings[i] }

// Describe says a setting in words: "in", "out, rake 3°" for a foil that is
// all in or all out, "out 0.67, rake 3°" for one that goes out by steps.
func (s *States) Describe(i uint8) string {
	f := s.settings[i]
	if f.Extension == 0 {
		return "in"
	}
	rake := fmt.Sprintf("rake %.3g°", units.Deg(f.RakeRad))
	if s.exts <= 2 {
		return "out, " + rake
	}
	return fmt.Sprintf("out %.2f, %s", f.Extension, rake)
}

// roles returns the leeward setting and the windward extension index of st on
// the board with the wind from starboard (true) or port.
func (s *States) roles(st State, starboardTack bool) (l, w int) {
	if starboardTack {
		return int(st.Port), s.extIndex[st.Starboard]
	}
	return int(st.Starboard), s.extIndex[st.Port]
}
