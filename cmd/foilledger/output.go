package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"foilledger/plots"
)

// folder collects the files of one result and puts them in place together:
// they are written beside their destination first and moved only when all are
// complete, so that a failure or an interrupt leaves nothing half-written.
type folder struct {
	dir   string // destination
	temp  string
	names []string
}

// newFolder checks that dir can be written and opens a folder for its files.
func newFolder(dir string) (*folder, error) {
	dir = filepath.Clean(dir)
	if st, err := os.Stat(dir); err == nil && !st.IsDir() {
		return nil, usage("choose another --out", "output %s is a file, not a folder", dir)
	}
	parent := filepath.Dir(dir)
	if err := os.MkdirAll(parent, 0o755); err != nil {
		return nil, unwritable(dir, err)
	}
	temp, err := os.MkdirTemp(parent, ".foilledger-")
	if err != nil {
		return nil, unwritable(dir, err)
	}
	if _, err := os.Stat(dir); err == nil { // an existing folder must take files
		probe, err := os.CreateTemp(dir, ".foilledger-")
		if err != nil {
			os.RemoveAll(temp)
			return nil, unwritable(dir, err)
		}
		probe.Close()
		os.Remove(probe.Name())
	}
	return &folder{dir: dir, temp: temp}, nil
}

func unwritable(dir string, err error) error {
	var path *fs.PathError
	if errors.As(err, &path) { // not the passing name that was tried
		err = path.Err
	}
	return &commandError{code: exitFailed, hint: "choose a folder that you may write, with --out",
		err: fmt.Errorf("cannot write the output folder %s: %w", dir, err)}
}

// write adds a file to the folder.
func (f *folder) write(name string, fill func(io.Writer) error) error {
	w, err := os.Create(filepath.Join(f.temp, name))
	if err != nil {
		return unwritable(f.dir, err)
	}
	b := bufio.NewWriterSize(w, 1<<16)
	err = errors.Join(fill(b), b.Flush(), w.Close())
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	f.names = append(f.names, name)
	return nil
}

// writeCharts adds charts as SVG and PNG.
func (f *folder) writeCharts(charts []plots.Chart) error {
	names, err := plots.WriteFiles(f.temp, charts, "svg", "png")
	for _, n := range names {
		f.names = append(f.names, filepath.Base(n))
	}
	return err
}

// commit moves the files to their place, unless ctx has ended.
func (f *folder) commit(ctx context.Context) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := os.MkdirAll(f.dir, 0o755); err != nil {
		return unwritable(f.dir, err)
	}
	for _, n := range f.names {
		if err := os.Rename(filepath.Join(f.temp, n), filepath.Join(f.dir, n)); err != nil {
			return unwritable(f.dir, err)
		}
	}
	return nil
}

// discard removes what was not committed.
func (f *folder) discard() { os.RemoveAll(f.temp) }
