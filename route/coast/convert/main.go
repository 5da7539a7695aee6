// Command convert turns the land polygons of a TopoJSON file into the compact
// form that package coast embeds:
//
//	npm pack world-atlas@2.0.2 && tar xzf world-atlas-2.0.2.tgz
//	go run ./route/coast/convert package/land-50m.json route/coast/land-coarse.bin.gz
//	go run ./route/coast/convert package/land-10m.json route/coast/land-fine.bin.gz
//
// The form, gzipped: the magic "FLC1"; scale and offset of longitude, then of
// latitude, as little-endian float64, in degrees; the number of rings; the
// number of vertices of each ring; all longitudes; all latitudes. Counts are
// uvarints; coordinates are grid numbers as varints, each as the difference
// from the one before it, the first of a ring from the first of the ring
// before.
package main

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"os"
)

type topology struct {
	Type      string
	Transform struct{ Scale, Translate [2]float64 }
	Arcs      [][][2]int
	Objects   map[string]object
}

type object struct {
	Type       string
	Geometries []object
	Arcs       json.RawMessage
}

func main() {
	if len(os.Args) != 3 {
		fmt.Fprintln(os.Stderr, "usage: convert land.json land.bin.gz")
		os.Exit(2)
	}
	if err := run(os.Args[1], os.Args[2]); err != nil {
		fmt.Fprintln(os.Stderr, "convert:", err)
		os.Exit(1)
	}
}

func run(in, out string) error {
	b, err := os.ReadFile(in)
	if err != nil {
		return err
	}
	var t topology
	if err := json.Unmarshal(b, &t); err != nil {
		return err
	}
	land, ok := t.Objects["land"]
	if t.Type != "Topology" || !ok {
		return fmt.Errorf("%s holds no topology with an object named land", in)
	}
	rings, err := t.rings(land, nil)
	if err != nil {
		return err
	}
	// Longitudes 180 and −180 are the same place: keep the latter.
	around := int(math.Round(360 / t.Transform.Scale[0]))
	vertices := 0
	kept := rings[:0]
	for _, r := range rings {
		for i := range r {
			r[i][0] = (r[i][0]%around + around) % around
		}
		if r = clean(r); len(r) >= 3 {
			kept = append(kept, r)
			vertices += len(r)
		}
	}
	fmt.Printf("%s: %d rings, %d vertices\n", out, len(kept), vertices)
	return write(out, t, kept)
}

func (t *topology) rings(o object, out [][][2]int) ([][][2]int, error) {
	var polygons [][][]int
	switch o.Type {
	case "GeometryCollection":
		for _, g := range o.Geometries {
			var err error
			if out, err = t.rings(g, out); err != nil {
				return nil, err
			}
		}
		return out, nil
	case "Polygon":
		polygons = make([][][]int, 1)
		if err := json.Unmarshal(o.Arcs, &polygons[0]); err != nil {
			return nil, err
		}
	case "MultiPolygon":
		if err := json.Unmarshal(o.Arcs, &polygons); err != nil {
			return nil, err
		}
	default:
		return nil, fmt.Errorf("geometry type %q is not known", o.Type)
	}
	for _, p := range polygons {
		for _, ring := range p {
			var r [][2]int
			for _, a := range ring {
				arc := t.arc(a)
				if len(r) > 0 {
					arc = arc[1:]
				}
				r = append(r, arc...)
			}
			out = append(out, r)
		}
	}
	return out, nil
}

// arc undoes the differences of an arc; ~i means arc i backwards.
func (t *topology) arc(i int) [][2]int {
	back := i < 0
	if back {
		i = ^i
	}
	src := t.Arcs[i]
	out := make([][2]int, len(src))
	x, y := 0, 0
	for k, d := range src {
		x, y = x+d[0], y+d[1]
		if back {
			out[len(src)-1-k] = [2]int{x, y}
		} else {
			out[k] = [2]int{x, y}
		}
	}
	return out
}

// clean drops repeated vertices, the closing one too, and spikes A B A.
func clean(r [][2]int) [][2]int {
	for {
		var out [][2]int
		for _, p := range r {
			n := len(out)
			switch {
			case n > 0 && out[n-1] == p:
			case n > 1 && out[n-2] == p:
				out = out[:n-1]
			default:
				out = append(out, p)
			}
		}
		for len(out) > 1 && out[0] == out[len(out)-1] {
			out = out[:len(out)-1]
		}
		if len(out) == len(r) {
			return out
		}
		r = out
	}
}

func write(path string, t topology, rings [][][2]int) error {
	var b bytes.Buffer
	b.WriteString("FLC1")
	for k := range 2 {
		for _, v := range []float64{t.Transform.Scale[k], t.Transform.Translate[k]} {
			if err := binary.Write(&b, binary.LittleEndian, v); err != nil {
				return err
			}
		}
	}
	var buf [binary.MaxVarintLen64]byte
	count := func(n int) { b.Write(buf[:binary.PutUvarint(buf[:], uint64(n))]) }
	count(len(rings))
	for _, r := range rings {
		count(len(r))
	}
	for k := range 2 {
		first := 0
		for _, r := range rings {
			prev := first
			first = r[0][k]
			for _, p := range r {
				b.Write(buf[:binary.PutVarint(buf[:], int64(p[k]-prev))])
				prev = p[k]
			}
		}
	}
	var z bytes.Buffer
	w, err := gzip.NewWriterLevel(&z, gzip.BestCompression)
	if err != nil {
		return err
	}
	if _, err := w.Write(b.Bytes()); err != nil {
		return err
	}
	if err := w.Close(); err != nil {
		return err
	}
	return os.WriteFile(path, z.Bytes(), 0o644)
}
