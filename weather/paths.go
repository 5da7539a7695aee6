package weather

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// source is one file to read.
type source struct {
	name     string
	inFolder bool // found in a folder: passed over when it is no forecast
}

// expand turns the paths into files, in the order given, names sorted within a
// folder or pattern, each file once.
func expand(paths []string) ([]source, error) {
	if len(paths) == 0 {
		return nil, errors.New("no forecast file given")
	}
	var out []source
	have := map[string]bool{}
	add := func(name string, inFolder bool) {
		if clean := filepath.Clean(name); !have[clean] {
			have[clean] = true
			out = append(out, source{name, inFolder})
		}
	}
	folder := func(dir string) error {
		entries, err := os.ReadDir(dir)
		if err != nil {
			return err
		}
		n := 0
		for _, e := range entries {
			if e.Type().IsRegular() && !strings.HasPrefix(e.Name(), ".") {
				add(filepath.Join(dir, e.Name()), true)
				n++
			}
		}
		if n == 0 {
			return &FileError{dir, errors.New("the folder holds no files")}
		}
		return nil
	}
	for _, p := range paths {
		info, err := os.Stat(p)
		switch {
		case err == nil && info.IsDir():
			if err := folder(p); err != nil {
				return nil, err
			}
		case err == nil:
			add(p, false)
		case errors.Is(err, fs.ErrNotExist) && strings.ContainsAny(p, "*?["):
			names, err := filepath.Glob(p)
			if err != nil {
				return nil, &FileError{p, err}
			}
			if len(names) == 0 {
				return nil, &FileError{p, errors.New("no file matches the pattern")}
			}
			slices.Sort(names)
			for _, n := range names {
				if info, err := os.Stat(n); err == nil && info.Mode().IsRegular() {
					add(n, true)
				}
			}
		default:
			return nil, err
		}
	}
	return out, nil
}
