// Package cdftest writes small NetCDF files in the classic formats for tests.
package cdftest

import (
	"encoding/binary"
	"fmt"
	"math"
)

// File is what to write. The dimension of length 0, if any, is the record
// dimension.
type File struct {
	Version byte // 1 classic, 2 64-bit offset, 5 CDF-5
	Dims    []Dim
	Attrs   []Attr
	Vars    []Var
	Records int
	Stream  bool // leave the number of records open, as while writing
}

// Dim is a dimension.
type Dim struct {
	Name string
	N    int
}

// Attr is an attribute: a string, or a slice of int8, int16, int32, float32 or
// float64.
type Attr struct {
	Name  string
	Value any
}

// Var is a variable. Values is a slice of the types that Attr takes, or of
// uint8, uint16, uint32, int64 or uint64 in CDF-5; record variables hold their
// records one after the other.
type Var struct {
	Name   string
	Dims   []string
	Attrs  []Attr
	Values any
}

type writer struct {
	b    []byte
	wide bool
}

func (w *writer) u32(v uint32) { w.b = binary.BigEndian.AppendUint32(w.b, v) }
func (w *writer) u64(v uint64) { w.b = binary.BigEndian.AppendUint64(w.b, v) }

func (w *writer) count(n int) {
	if w.wide {
		w.u64(uint64(n))
	} else {
		w.u32(uint32(n))
	}
}

func (w *writer) pad() {
	for len(w.b)%4 != 0 {
		w.b = append(w.b, 0)
	}
}

func (w *writer) name(s string) {
	w.count(len(s))
	w.b = append(w.b, s...)
	w.pad()
}

func (w *writer) list(tag uint32, n int) {
	if n == 0 {
		tag = 0
	}
	w.u32(tag)
	w.count(n)
}

func (w *writer) attrs(list []Attr) {
	w.list(0x0c, len(list))
	for _, a := range list {
		w.name(a.Name)
		typ, n, b := encode(a.Value)
		w.u32(typ)
		w.count(n)
		w.b = append(w.b, b...)
		w.pad()
	}
}

// encode returns the storage type, the number of values and their bytes. It
// panics on a type that the formats do not have.
func encode(v any) (typ uint32, n int, b []byte) {
	size := map[uint32]int{1: 1, 2: 1, 3: 2, 4: 4, 5: 4, 6: 8, 7: 1, 8: 2, 9: 4, 10: 8, 11: 8}
	switch x := v.(type) {
	case string:
		return 2, len(x), []byte(x)
	case []int8:
		typ = 1
	case []int16:
		typ = 3
	case []int32:
		typ = 4
	case []float32:
		typ = 5
	case []float64:
		typ = 6
	case []uint8:
		typ = 7
	case []uint16:
		typ = 8
	case []uint32:
		typ = 9
	case []int64:
		typ = 10
	case []uint64:
		typ = 11
	default:
		panic(fmt.Sprintf("cdftest: values of type %T", v))
	}
	b, err := binary.Append(nil, binary.BigEndian, v)
	if err != nil {
		panic(err)
	}
	return typ, len(b) / size[typ], b
}

// Bytes returns the file.
func (f File) Bytes() []byte {
	dims := map[string]int{}
	for i, d := range f.Dims {
		dims[d.Name] = i
	}
	type part struct {
		typ    uint32
		b      []byte
		record bool
		each   int // bytes in a record, or of the whole
		begin  int
	}
	parts := make([]part, len(f.Vars))
	recordVars := 0
	for i, v := range f.Vars {
		p := &parts[i]
		p.typ, _, p.b = encode(v.Values)
		p.each = len(p.b)
		if len(v.Dims) > 0 && f.Dims[dims[v.Dims[0]]].N == 0 {
			p.record = true
			recordVars++
			if f.Records > 0 {
				p.each = len(p.b) / f.Records
			}
		}
	}
	header := func() []byte {
		w := &writer{b: []byte{'C', 'D', 'F', f.Version}, wide: f.Version == 5}
		switch {
		case f.Stream && w.wide:
			w.u64(math.MaxUint64)
		case f.Stream:
			w.u32(math.MaxUint32)
		default:
			w.count(f.Records)
		}
		w.list(0x0a, len(f.Dims))
		for _, d := range f.Dims {
			w.name(d.Name)
			w.count(d.N)
		}
		w.attrs(f.Attrs)
		w.list(0x0b, len(f.Vars))
		for i, v := range f.Vars {
			w.name(v.Name)
			w.count(len(v.Dims))
			for _, d := range v.Dims {
				w.count(dims[d])
			}
			w.attrs(v.Attrs)
			w.u32(parts[i].typ)
			w.count((parts[i].each + 3) &^ 3)
			if f.Version == 1 {
				w.u32(uint32(parts[i].begin))
			} else {
				w.u64(uint64(parts[i].begin))
			}
		}
		return w.b
	}
	at := len(header())
	padded := func(p part) int {
		if p.record && recordVars == 1 {
			return p.each
		}
		return (p.each + 3) &^ 3
	}
	recordSize := 0
	for pass := range 2 {
		for i := range parts {
			if p := &parts[i]; p.record == (pass == 1) {
				p.begin = at
				at += padded(*p)
				if p.record {
					recordSize += padded(*p)
				}
			}
		}
	}
	out := header()
	put := func(begin int, b []byte) {
		if need := begin + len(b); need > len(out) {
			out = append(out, make([]byte, need-len(out))...)
		}
		copy(out[begin:], b)
	}
	for _, p := range parts {
		if !p.record {
			put(p.begin, p.b)
			continue
		}
		for r := range f.Records {
			put(p.begin+r*recordSize, p.b[r*p.each:][:p.each])
		}
	}
	for recordVars != 1 && len(out)%4 != 0 {
		out = append(out, 0)
	}
	return out
}
