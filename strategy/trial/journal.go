package trial

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"
)

// journalFormat names the layout of journals: JSON lines, first the head, then
// one for each job that was done, in the order in which they were done.
const journalFormat = "foilledger jobs 1"

// JournalError says what is wrong with a journal.
type JournalError struct {
	Path    string
	Line    int // 0: the file as a whole
	Msg     string
	Other   bool // it belongs to other work
	Missing int  // jobs that no journal holds
}

func (e *JournalError) Error() string {
	at := e.Path
	if e.Line > 0 {
		at = fmt.Sprintf("%s:%d", e.Path, e.Line)
	}
	if e.Missing > 0 {
		return fmt.Sprintf("%s: %s: %d jobs are missing", at, e.Msg, e.Missing)
	}
	return at + ": " + e.Msg
}

type header struct {
	Format      string          `json:"format"`
	Fingerprint string          `json:"fingerprint"`
	Jobs        int             `json:"jobs"`
	Part        int             `json:"part"`
	Parts       int             `json:"parts"`
	Note        json.RawMessage `json:"note,omitempty"`
}

func (h *header) note(v any) error { return json.Unmarshal(h.Note, v) }

type line[R any] struct {
	Job    *int `json:"job"`
	Result *R   `json:"result"`
}

// journal appends results to a file.
type journal struct {
	f    *os.File
	sync time.Time
}

// openJournal opens a journal to go on with, or begins one. A last line that
// was not written whole is dropped.
func openJournal[R any](path string, h header, note any) (*journal, map[int]R, error) {
	data, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, nil, err
	}
	old := map[int]R{}
	whole := 0
	if len(data) > 0 && bytes.IndexByte(data, '\n') >= 0 {
		var was header
		if was, old, whole, err = parseJournal[R](path, data); err != nil {
			return nil, nil, err
		}
		if was.Fingerprint != h.Fingerprint || was.Jobs != h.Jobs || was.Part != h.Part || was.Parts != h.Parts {
			return nil, nil, &JournalError{Path: path, Line: 1, Msg: "holds the results of other work", Other: true}
		}
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, nil, err
	}
	j := &journal{f: f, sync: time.Now()}
	err = f.Truncate(int64(whole))
	if err == nil {
		_, err = f.Seek(int64(whole), 0)
	}
	if err == nil && whole == 0 {
		if note != nil {
			h.Note, err = json.Marshal(note)
		}
		if err == nil {
			err = j.write(h)
		}
	}
	if err != nil {
		return nil, nil, errors.Join(err, f.Close())
	}
	return j, old, nil
}

// write adds one line with one call, so that a kill leaves at most a torn last
// line.
func (j *journal) write(v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return err
	}
	_, err = j.f.Write(append(b, '\n'))
	return err
}

func (j *journal) add(job int, r any) error {
	if err := j.write(struct {
		Job    int `json:"job"`
		Result any `json:"result"`
	}{job, r}); err != nil {
		return err
	}
	if now := time.Now(); now.Sub(j.sync) > 5*time.Second { // for a loss of power
		j.sync = now
		return j.f.Sync()
	}
	return nil
}

func (j *journal) close() error {
	if j.f == nil {
		return nil
	}
	err := errors.Join(j.f.Sync(), j.f.Close())
	j.f = nil
	return err
}

func readJournal[R any](path string) (header, map[int]R, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return header{}, nil, err
	}
	h, rs, _, err := parseJournal[R](path, data)
	return h, rs, err
}

// parseJournal reads the whole lines of a journal and returns their length.
func parseJournal[R any](path string, data []byte) (h header, rs map[int]R, whole int, err error) {
	rs = map[int]R{}
	for n := 1; ; n++ {
		end := bytes.IndexByte(data[whole:], '\n')
		if end < 0 {
			if n == 1 {
				return h, nil, 0, &JournalError{Path: path, Msg: "is not a journal"}
			}
			return h, rs, whole, nil
		}
		text := data[whole : whole+end]
		if n == 1 {
			if err := json.Unmarshal(text, &h); err != nil || h.Format != journalFormat {
				return h, nil, 0, &JournalError{Path: path, Line: 1, Msg: "is not a journal of this version"}
			}
		} else {
			var l line[R]
			if err := json.Unmarshal(text, &l); err != nil || l.Job == nil || l.Result == nil || *l.Job < 0 || *l.Job >= h.Jobs {
				return h, nil, 0, &JournalError{Path: path, Line: n, Msg: "is damaged"}
			}
			rs[*l.Job] = *l.Result
		}
		whole += end + 1
	}
}
