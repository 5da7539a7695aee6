package weather

import (
	"bufio"
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"foilledger/weather/grib"
	"foilledger/weather/grid"
)

const largeEnv = "FOILLEDGER_LARGE_FILE"

// BenchmarkLoadLargeFile writes a forecast file of 300 MB (global, a quarter of
// a degree, 10 m wind), reads from it what a passage across an ocean needs in a
// process of its own, and reports that process's largest memory: it has to be
// below the size of the file.
func BenchmarkLoadLargeFile(b *testing.B) {
	const wantMB = 300
	path := filepath.Join(b.TempDir(), "large.grib2")
	sizeMB := writeLarge(b, path, wantMB<<20) >> 20
	if sizeMB < wantMB {
		b.Fatalf("the file has only %d MB", sizeMB)
	}
	peak := int64(0)
	b.ResetTimer()
	for range b.N {
		cmd := exec.Command(os.Args[0], "-test.run", "^TestLoadLargeHelper$", "-test.v")
		cmd.Env = append(os.Environ(), largeEnv+"="+path)
		out, err := cmd.CombinedOutput()
		if err != nil {
			b.Fatalf("%v\n%s", err, out)
		}
		peak = max(peak, cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss>>10) // kilobytes on Linux
	}
	b.ReportMetric(float64(sizeMB), "file-MB")
	b.ReportMetric(float64(peak), "peak-MB")
	if peak >= wantMB {
		b.Errorf("reading a passage's part of %d MB took %d MB", sizeMB, peak)
	}
}

// TestLoadLargeHelper is the process that BenchmarkLoadLargeFile measures.
func TestLoadLargeHelper(t *testing.T) {
	path := os.Getenv(largeEnv)
	if path == "" {
		t.Skip("runs only in the process that BenchmarkLoadLargeFile starts: skipped")
	}
	track := []orb.Point{{-5, 48}, {-20, 44}, {-40, 38}, {-60, 25}}
	from := t0.Add(24 * time.Hour)
	fc, err := Load(context.Background(), []string{path}, Along(track, 60, from, from.Add(240*time.Hour)))
	if err != nil {
		t.Fatal(err)
	}
	f := fc.Main()
	for _, p := range track {
		if _, err := f.At(p[0], p[1], from.Add(100*time.Hour).Sub(f.Reference()).Seconds()); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d steps, %d MB kept", len(f.StepsS()), f.bytes()>>20)
}

// writeLarge writes steps of global wind until the file has the size, one field
// in memory at a time.
func writeLarge(b *testing.B, path string, size int64) int64 {
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	w := bufio.NewWriterSize(f, 1<<20)
	s := grid.Shape{South: -90, West: -180, DLat: 0.25, DLon: 0.25, NLat: 721, NLon: 1440}
	values := make([]float32, s.NLat*s.NLon)
	written := int64(0)
	for h := 0; written < size; h += 3 {
		for k, q := range []grid.Quantity{grid.WindU, grid.WindV} {
			for i := range values {
				lat, lon := float64(i/s.NLon)*s.DLat-90, float64(i%s.NLon)*s.DLon
				values[i] = float32(12 * math.Sin(lon/11+float64(h)/30+float64(k)*1.5) * math.Cos(lat/20))
			}
			fld := &grid.Field{Shape: s, Quantity: q, Member: -1, Reference: t0, Valid: t0.Add(time.Duration(h) * time.Hour), Values: values}
			n := &countingWriter{w: w}
			if err := grib.Encode2(n, []*grid.Field{fld}, grib.EncodeOptions{Bits: 16}); err != nil {
				b.Fatal(err)
			}
			written += n.n
		}
	}
	if err := w.Flush(); err != nil {
		b.Fatal(fmt.Errorf("%s: %w", path, err))
	}
	return written
}

type countingWriter struct {
	w *bufio.Writer
	n int64
}

func (c *countingWriter) Write(p []byte) (int, error) {
	n, err := c.w.Write(p)
	c.n += int64(n)
	return n, err
}
