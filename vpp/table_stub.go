package vpp

import "context"

type Table struct {
	m    *Model
	grid Grid
}

func (m *Model) Solve(c Condition, leeward, windward FoilSetting) (Point, Status) {
	return Point{}, Unsolved
}
func DefaultGrid() Grid { return Grid{} }
func BuildTable(ctx context.Context, m *Model, g Grid, progress func(done, total int)) (*Table, error) {
	return &Table{m: m, grid: g}, nil
}
func CachedTable(ctx context.Context, dir string, m *Model, g Grid, progress func(done, total int)) (*Table, bool, error) {
	t, err := BuildTable(ctx, m, g, progress)
	return t, false, err
}
func (t *Table) Boat() *Boat                                               { return t.m.boat }
func (t *Table) Settings() []FoilSetting                                   { return t.m.boat.Settings() }
func (t *Table) Extensions() []float64                                     { return t.m.boat.Extensions() }
func (t *Table) Speed(l, w int, c Condition) (bspMS float64, ok bool)      { return 0, false }
func (t *Table) At(l, w int, c Condition) Steady                           { return Steady{} }
func (t *Table) Accel(l, w int, p Power, c Condition, vMS float64) float64 { return 0 }
func (t *Table) BestVMG(l, w int, twsMS, hsM float64, upwind bool) (twaRad, vmgMS float64) {
	return 0, 0
}
func (t *Table) Grid() Grid { return t.grid }
