package plots

import (
	"flag"
	"os"
	"path/filepath"
	"testing"
)

// lookDir keeps what the tests draw, for people to look at.
var lookDir = flag.String("look", "", "folder in which to leave every picture and page that the tests make")

func lookInto(t *testing.T) string {
	t.Helper()
	if *lookDir == "" {
		return t.TempDir()
	}
	if err := os.MkdirAll(*lookDir, 0o755); err != nil {
		t.Fatal(err)
	}
	return *lookDir
}

func TestLook(t *testing.T) {
	dir := lookInto(t)
	dpi := 110
	if *lookDir == "" {
		dpi = 20 // only whether it can be drawn
	}
	for _, c := range goldenCharts() {
		for z, suffix := range map[Size]string{Wide: "", Narrow: "-narrow"} {
			f, err := os.Create(filepath.Join(dir, c.Name+suffix+".png"))
			if err != nil {
				t.Fatal(err)
			}
			if err := c.pngAt(f, z, dpi); err != nil {
				t.Fatal(err)
			}
			f.Close()
		}
	}
	f, err := os.Create(filepath.Join(dir, "passage.html"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := WritePassagePage(f, samplePassage()); err != nil {
		t.Fatal(err)
	}
}
