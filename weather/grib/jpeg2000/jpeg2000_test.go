package jpeg2000_test

import (
	"fmt"
	"math"
	"path/filepath"
	"runtime"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/weather/grib/jpeg2000"
)

var openFiles = []string{
	"derived/gfs_20190106T12_f006_10uv_1p00_eccodes_jpeg.grib2",
	"derived/gfs_pseudofc_20161120T00_f000-048_10uv_natl_1p00_jpeg.grib2",
	"grib2/gfswave_20230823T18_f001_atlocn_0p16_jpeg.grib2",
	"grib2/nam211_20070124T00_f012_10uv_lambert_jpeg.grib2",
}

func TestOpenFilesAgreeWithIndependentDecoder(t *testing.T) {
	for _, name := range openFiles {
		fields := sections(t, validation.SharedData(t, filepath.FromSlash(name)))
		refs := references(t, name)
		if len(fields) != len(refs) {
			t.Fatalf("%s: %d fields, want %d", name, len(fields), len(refs))
		}
		worstMean := 0.0
		for i, f := range fields {
			ref := refs[i]
			if f.template != 40 {
				t.Fatalf("%s field %d: template %d", name, i+1, f.template)
			}
			x, w, h, err := jpeg2000.Decode(f.data)
			if err != nil {
				t.Fatalf("%s field %d: %v", name, i+1, err)
			}
			if in, err := jpeg2000.Describe(f.data); err != nil || in.Width != w || in.Height != h || in.Signed {
				t.Errorf("%s field %d: %+v, %v, decoded %d by %d", name, i+1, in, err, w, h)
			}
			if len(x) != w*h || len(x) != f.values {
				t.Fatalf("%s field %d: %d by %d samples, want %d", name, i+1, w, h, f.values)
			}
			values := spread(f, x)
			lo, hi, sum := math.Inf(1), math.Inf(-1), 0.0
			for _, v := range values {
				if !math.IsNaN(v) {
					lo, hi, sum = min(lo, v), max(hi, v), sum+v
				}
			}
			mean := sum / float64(f.values)
			tol := 1e-9 * max(1, math.Abs(ref.Max), math.Abs(ref.Min))
			for _, c := range []struct {
				what      string
				got, want float64
			}{{"minimum", lo, ref.Min}, {"maximum", hi, ref.Max}, {"mean", mean, ref.Mean}} {
				if !(math.Abs(c.got-c.want) <= tol) {
					t.Errorf("%s field %d: %s %v, want %v", name, i+1, c.what, c.got, c.want)
				}
			}
			worstMean = max(worstMean, math.Abs(mean-ref.Mean))
			for _, s := range append(ref.Samples, ref.NonMissing...) {
				got := values[int(*s[0])]
				if s[3] == nil {
					if !math.IsNaN(got) {
						t.Errorf("%s field %d point %v: %v, want missing", name, i+1, *s[0], got)
					}
				} else if !(math.Abs(got-*s[3]) <= tol) {
					t.Errorf("%s field %d point %v: %v, want %v", name, i+1, *s[0], got, *s[3])
				}
			}
		}
		validation.Check(t, validation.Row{
			Package: "weather/grib/jpeg2000", ID: "open-" + filepath.Base(name),
			Quantity: fmt.Sprintf("largest difference of a field's mean over %d fields", len(fields)),
			Got:      worstMean, Want: 0, Tol: 1e-6, Source: "eccodes 2.28 on the same file", Kind: validation.Independent,
		})
	}
}

func spread(f packed, x []int32) []float64 {
	values := make([]float64, f.points)
	k := 0
	for i := range values {
		if f.bitmap != nil && f.bitmap[i/8]>>(7-i%8)&1 == 0 {
			values[i] = math.NaN()
			continue
		}
		values[i] = f.scale(x[k])
		k++
	}
	return values
}

func BenchmarkDecode(b *testing.B) {
	for _, name := range []string{openFiles[0], openFiles[2]} {
		f := sections(b, validation.SharedData(b, filepath.FromSlash(name)))[0]
		for _, procs := range []int{1, runtime.NumCPU()} {
			b.Run(fmt.Sprintf("%.7s-%dproc", filepath.Base(name), procs), func(b *testing.B) {
				defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(procs))
				for b.Loop() {
					if _, _, _, err := jpeg2000.Decode(f.data); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(float64(f.values)*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mvalues/s")
			})
		}
	}
}
