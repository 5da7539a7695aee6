// Package coast answers questions about land, or any other polygons on the
// Earth, through a grid of edges: whether a point is inside, whether a segment
// touches, how far the nearest edge is.
//
// Points are {longitude, latitude} in degrees. Polygons are straight in
// longitude and latitude between vertices, so are segments; an edge or segment
// goes the short way round in longitude. Distances are local (flat, scaled at
// the place asked about) and good to 1 % up to 50 km below 70° of latitude.
package coast

import (
	"bytes"
	"compress/gzip"
	_ "embed" // for the land data
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"sync"

	"github.com/paulmach/orb"
)

// Land of Natural Earth, public domain; see ATTRIBUTION.txt. The form is
// described at the command in ./convert.
var (
	//go:embed land-coarse.bin.gz
	coarseData []byte
	//go:embed land-fine.bin.gz
	fineData []byte
)

// Coarse returns the index of the world's land at 1:50 million: islands from
// about 10 km, shores within a few kilometres. It is built at the first call
// and shared; it may be used from many goroutines.
var Coarse = sync.OnceValue(func() *Index { return mustLoad(coarseData) })

// Fine returns the index of the world's land at 1:10 million: islands from
// about 1 km, shores within about a kilometre. It is built at the first call
// and shared; it may be used from many goroutines. It is no chart: rocks,
// shoals and small islands are not in it.
var Fine = sync.OnceValue(func() *Index { return mustLoad(fineData) })

func mustLoad(gz []byte) *Index {
	rings, err := decode(gz)
	if err != nil {
		panic("coast: embedded data: " + err.Error()) // the binary is broken
	}
	return NewIndex(rings, 0.5)
}

func decode(gz []byte) ([][]orb.Point, error) {
	z, err := gzip.NewReader(bytes.NewReader(gz))
	if err != nil {
		return nil, err
	}
	b, err := io.ReadAll(z)
	if err != nil {
		return nil, err
	}
	const head = 4 + 4*8
	if len(b) < head || string(b[:4]) != "FLC1" {
		return nil, fmt.Errorf("not land data")
	}
	var scale, offset [2]float64
	for k := range 2 {
		scale[k] = math.Float64frombits(binary.LittleEndian.Uint64(b[4+16*k:]))
		offset[k] = math.Float64frombits(binary.LittleEndian.Uint64(b[12+16*k:]))
	}
	b = b[head:]
	bad := false
	next := func() uint64 {
		v, n := binary.Uvarint(b)
		if n <= 0 {
			bad, n = true, len(b)
		}
		b = b[n:]
		return v
	}
	n := next()
	if n > uint64(len(b)) {
		return nil, fmt.Errorf("land data is damaged")
	}
	rings := make([][]orb.Point, n)
	for i := range rings {
		c := next()
		if c > uint64(len(b)) {
			return nil, fmt.Errorf("land data is damaged")
		}
		rings[i] = make([]orb.Point, c)
	}
	for k := range 2 {
		first := 0
		for _, r := range rings {
			v := first
			for i := range r {
				u := next() // zigzag, as binary.Varint
				v += int(int64(u>>1) ^ -int64(u&1))
				if i == 0 {
					first = v
				}
				r[i][k] = float64(v)*scale[k] + offset[k]
			}
		}
	}
	if bad || len(b) != 0 {
		return nil, fmt.Errorf("land data is damaged")
	}
	return rings, nil
}
