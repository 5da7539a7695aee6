package vpp

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/gob"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
)

// modelVersion names the equations; it is part of the cache key, and changes
// whenever results may.
const modelVersion = "13"

// CacheKey is the content hash of all that a speed table depends on: boat,
// factors, grid and version of the model. Of what people do on board only the
// force of eased sails is in the table; boats that differ in the rest, or in
// their name, share it.
func CacheKey(m *Model, g Grid) string {
	boat := *m.boat
	boat.Name, boat.Handling = "", Handling{EasedPower: boat.Handling.EasedPower}
	b, err := json.Marshal(struct {
		Version string
		Boat    *Boat
		Factors Factors
		Grid    Grid
	}{modelVersion, &boat, m.factors, g})
	if err != nil {
		panic("vpp: " + err.Error()) // a parsed boat holds finite numbers only
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:16])
}

// CachedTable returns the table kept in dir for this boat and grid, and true; or
// builds it, keeps it there, and returns false. A kept file that is damaged is
// ignored and replaced. When the table is good but could not be kept, it is
// returned together with an error that wraps [ErrNotKept].
func CachedTable(ctx context.Context, dir string, m *Model, g Grid, progress func(done, total int)) (*Table, bool, error) {
	path := filepath.Join(dir, "speeds-"+CacheKey(m, g)+".bin")
	if t := readTable(path, m, g); t != nil {
		return t, true, nil
	}
	t, err := BuildTable(ctx, m, g, progress)
	if err != nil {
		return nil, false, err
	}
	if err := writeTable(path, t); err != nil {
		return t, false, fmt.Errorf("%w: %w", ErrNotKept, err)
	}
	return t, false, nil
}

// ErrNotKept says that a table was built but could not be written to the cache.
var ErrNotKept = errNotKept{}

type errNotKept struct{}

func (errNotKept) Error() string { return "speed table not kept" }

const cacheMagic = "foilledger speeds\n"

// readTable returns nil when there is no sound table at path.
func readTable(path string, m *Model, g Grid) *Table {
	b, err := os.ReadFile(path)
	if err != nil || len(b) < len(cacheMagic)+sha256.Size || string(b[:len(cacheMagic)]) != cacheMagic {
		return nil
	}
	body := b[len(cacheMagic) : len(b)-sha256.Size]
	if sum := sha256.Sum256(body); !bytes.Equal(sum[:], b[len(b)-sha256.Size:]) {
		return nil
	}
	t := &Table{boat: m.boat, factors: m.factors, settings: m.boat.Settings(), exts: m.boat.Extensions()}
	if err := gob.NewDecoder(bytes.NewReader(body)).Decode(&t.data); err != nil {
		return nil
	}
	n := len(g.HsM) * len(g.TWSMS) * len(g.TWARad) * len(t.settings)
	c := g.coarse()
	ne := len(t.exts)
	d := &t.data
	fine := g.fine()
	if len(d.Fine) != len(fine.HsM)*len(fine.TWSMS)*len(fine.TWARad)*len(t.settings) || len(d.BSP) != n || len(d.Cells) != n || len(d.Acc) != n*numPowers*len(g.VMS) || !reflect.DeepEqual(d.Grid, g) ||
		len(d.Less) != (ne-1)*ne*len(c.HsM)*len(c.TWSMS)*len(c.TWARad) {
		return nil
	}
	t.finish()
	return t
}

// writeTable writes the table beside its place and renames it, so that a reader
// never sees half of it.
func writeTable(path string, t *Table) error {
	var b bytes.Buffer
	b.WriteString(cacheMagic)
	if err := gob.NewEncoder(&b).Encode(&t.data); err != nil {
		return err
	}
	sum := sha256.Sum256(b.Bytes()[len(cacheMagic):])
	b.Write(sum[:])
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	f, err := os.CreateTemp(dir, ".speeds-*")
	if err != nil {
		return err
	}
	_, err = f.Write(b.Bytes())
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		os.Remove(f.Name())
	}
	return err
}
