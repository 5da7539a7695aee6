package jpeg2000_test

import (
	"bufio"
	"encoding/binary"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"foilledger/testdata/validation"
)

// packed is a data section of a GRIB 2 message with what scales its integers:
// value = (R + X·2^E)/10^D.
type packed struct {
	points   int // grid points, missing ones included
	values   int
	template int
	octets   []byte // of section 5
	bitmap   []byte // section 6 bitmap, nil when all points are there
	data     []byte
}

func (p packed) scale(x int32) float64 {
	r := float64(math.Float32frombits(binary.BigEndian.Uint32(p.octets[11:])))
	return (r + float64(x)*math.Pow(2, signed16(p.octets[15:]))) / math.Pow(10, signed16(p.octets[17:]))
}

func signed16(b []byte) float64 {
	v := float64(binary.BigEndian.Uint16(b) & 0x7fff)
	if b[0]&0x80 != 0 {
		return -v
	}
	return v
}

// sections walks the messages of a file; enough for files known to be sound.
func sections(t testing.TB, file string) (fields []packed) {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for len(b) >= 16 && string(b[:4]) == "GRIB" {
		total := binary.BigEndian.Uint64(b[8:])
		var p packed
		for at := 16; string(b[at:at+4]) != "7777"; {
			n := int(binary.BigEndian.Uint32(b[at:]))
			s := b[at : at+n]
			switch s[4] {
			case 3:
				p.points = int(binary.BigEndian.Uint32(s[6:]))
			case 5:
				p.values, p.template, p.octets = int(binary.BigEndian.Uint32(s[5:])), int(binary.BigEndian.Uint16(s[9:])), s
			case 6:
				p.bitmap = nil
				if s[5] == 0 {
					p.bitmap = s[6:]
				}
			case 7:
				p.data = s[5:]
				fields = append(fields, p)
			}
			at += n
		}
		b = b[total:]
	}
	return fields
}

// reference is one line of the independent decoder's results.
type reference struct {
	File           string
	Field, N       int
	Nmiss          int
	Min, Max, Mean float64
	Samples        [][4]*float64
	NonMissing     [][4]*float64 `json:"samples_nonmissing"`
}

func references(t testing.TB, file string) (refs []reference) {
	t.Helper()
	f, err := os.Open(validation.SharedData(t, "ref", "grib_reference.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	sc := bufio.NewScanner(f)
	sc.Buffer(nil, 1<<20)
	for sc.Scan() {
		if !strings.Contains(sc.Text(), file) {
			continue
		}
		var r reference
		if err := json.Unmarshal(sc.Bytes(), &r); err != nil {
			t.Fatal(err)
		}
		refs = append(refs, r)
	}
	if len(refs) == 0 {
		t.Fatalf("no reference results for %s", file)
	}
	return refs
}
