package grib

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"foilledger/testdata/validation"
	"foilledger/weather/grid"
)

// benchCase is one file to decode.
type benchCase struct {
	name string
	load func(b *testing.B) []byte
}

// benchCases are a made global field of a quarter of a degree in every packing
// that we write, and a real one of a degree, lossless in every packing.
func benchCases() []benchCase {
	var out []benchCase
	for p := range packings {
		out = append(out, benchCase{"made-" + p.String(), func(b *testing.B) []byte {
			s := grid.Shape{South: -90, West: -180, DLat: 0.25, DLon: 0.25, NLat: 721, NLon: 1440}
			return mustEncode2(b, EncodeOptions{Packing: p, Bits: 12}, madeField(s, grid.WindU, false))
		}})
	}
	for _, open := range []struct{ name, file string }{
		{"gfs-simple", "grib2/gfs_20190106T12_f006_10uv_1p00_drt5.0.grib2"},
		{"gfs-complex", "grib2/gfs_20190106T12_f006_10uv_1p00_drt5.2.grib2"},
		{"gfs-complex-second", "grib2/gfs_20190106T12_f006_10uv_1p00_drt5.3.grib2"},
		{"gfs-ccsds", "derived/gfs_20190106T12_f006_10uv_1p00_eccodes_ccsds.grib2"},
		{"gfs-png", "derived/gfs_20190106T12_f006_10uv_1p00_eccodes_png.grib2"},
		{"gfs-jpeg2000", "derived/gfs_20190106T12_f006_10uv_1p00_eccodes_jpeg.grib2"},
		{"wave-simple-bitmap", "derived/gdaswave_20211130T00_wcoast_eccodes_simple_bitmap.grib2"},
		{"wave-ccsds-bitmap", "derived/gdaswave_20211130T00_wcoast_eccodes_ccsds_bitmap.grib2"},
		{"wave-jpeg2000-bitmap", "grib2/gfswave_20230823T18_f001_atlocn_0p16_jpeg.grib2"},
		{"ensemble-ccsds", "derived/pseudoens_20110101T00_f000-024_10uv_neatl_0p25_6members_ccsds.grib2"},
		{"nww3-edition1", "grib1/ncep-nww3_20050330T00_f000-180_3h_wind_transatl_60N10N_75W0.grib1"},
		{"era5-edition1", "grib1/era5_20110101-03_hourly_10u10v_msl_neatl_0p25.grib1"},
	} {
		out = append(out, benchCase{open.name, func(b *testing.B) []byte {
			f, err := os.ReadFile(validation.SharedData(b, filepath.FromSlash(open.file)))
			if err != nil {
				b.Fatal(err)
			}
			return f
		}})
	}
	return out
}

// decodeAll decodes a file's fields and returns the number of values, with the
// values in one reused array as the C driver's allocator has it, or with an
// array for each field.
func decodeAll(b *testing.B, file []byte, scratch bool) (values int) {
	err := Read(context.Background(), bytes.NewReader(file), int64(len(file)), Reading{
		Emit: func(_ Header, f *grid.Field) error {
			values += len(f.Values)
			return nil
		},
		Scratch: scratch,
	})
	if err != nil {
		b.Fatal(err)
	}
	return values
}

// BenchmarkDecode reports megavalues per second of elapsed time.
func BenchmarkDecode(b *testing.B) {
	for _, c := range benchCases() {
		for name, scratch := range map[string]bool{"": true, "/kept": false} {
			b.Run(c.name+name, func(b *testing.B) {
				file := c.load(b)
				values := 0
				b.ResetTimer()
				for range b.N {
					values = decodeAll(b, file, scratch)
				}
				if values == 0 {
					b.Fatal("nothing decoded")
				}
				b.ReportMetric(float64(values)*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mvalues/s")
			})
		}
	}
}

// BenchmarkAgainstC decodes the same files with this package and with the C
// library eccodes in one run and reports megavalues per second of processor time
// for both, and their ratio. Rounds of the two alternate and the quickest pass of
// each counts, so that other load on the machine matters little; processor time
// makes both count as on one thread. It needs a C compiler and libeccodes-dev.
func BenchmarkAgainstC(b *testing.B) {
	driver := eccodesDriver(b)
	for _, c := range benchCases() {
		b.Run(c.name, func(b *testing.B) {
			file := c.load(b)
			path := filepath.Join(b.TempDir(), "in")
			if err := os.WriteFile(path, file, 0o600); err != nil {
				b.Fatal(err)
			}
			values := decodeAll(b, file, true) // warms up
			const rounds, passes = 4, 6
			ours, theirs := math.Inf(1), math.Inf(1)
			for range b.N {
				for range rounds {
					for range passes {
						t := processorTime(b)
						decodeAll(b, file, true)
						ours = min(ours, float64(processorTime(b)-t))
					}
					out, err := exec.Command(driver, path, fmt.Sprint(passes)).Output()
					if err != nil {
						b.Fatal(err)
					}
					var ns, n, sum float64
					if _, err := fmt.Sscan(string(out), &ns, &n, &sum); err != nil {
						b.Fatal(err)
					}
					if int(n) != values {
						b.Fatalf("eccodes decodes %g values, we %d", n, values)
					}
					theirs = min(theirs, ns)
				}
			}
			b.ReportMetric(0, "ns/op") // says nothing here
			b.ReportMetric(float64(values)/ours*1e3, "ours-Mvalues/s")
			b.ReportMetric(float64(values)/theirs*1e3, "C-Mvalues/s")
			b.ReportMetric(theirs/ours, "times-C")
		})
	}
}

// processorTime is the time that the process has had on all processors.
func processorTime(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

var driverPath string

// eccodesDriver compiles testdata/eccodes_bench.c, once.
func eccodesDriver(b *testing.B) string {
	if driverPath != "" {
		return driverPath
	}
	if _, err := exec.LookPath("cc"); err != nil {
		b.Skip("no C compiler: comparison skipped")
	}
	dir, err := os.MkdirTemp("", "grib-bench")
	if err != nil {
		b.Fatal(err)
	}
	path := filepath.Join(dir, "eccodes_bench")
	out, err := exec.Command("cc", "-O2", "-o", path, filepath.Join("testdata", "eccodes_bench.c"), "-leccodes").CombinedOutput()
	if err != nil {
		if strings.Contains(string(out), "eccodes.h") || strings.Contains(string(out), "-leccodes") {
			b.Skip("libeccodes-dev is not installed: comparison skipped")
		}
		b.Fatalf("%v\n%s", err, out)
	}
	driverPath = path
	return path
}

func BenchmarkEncode(b *testing.B) {
	s := grid.Shape{South: -90, West: -180, DLat: 0.5, DLon: 0.5, NLat: 361, NLon: 720}
	f := madeField(s, grid.WindU, false)
	for p := range packings {
		b.Run(p.String(), func(b *testing.B) {
			n := 0
			for range b.N {
				n = len(mustEncode2(b, EncodeOptions{Packing: p, Bits: 12}, f))
			}
			b.ReportMetric(float64(len(f.Values))*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mvalues/s")
			b.ReportMetric(float64(8*n)/float64(len(f.Values)), "bits/value")
		})
	}
}
