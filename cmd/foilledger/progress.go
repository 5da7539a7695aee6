package main

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"sync"
	"time"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
)

// progress shows bars with the time left on stderr, on a terminal only.
type progress struct {
	bars *mpb.Progress

	mu  sync.Mutex
	bar *mpb.Bar
}

func newProgress(s streams) *progress {
	if s.quiet || !isTerminal(s.errOut) {
		return &progress{}
	}
	return &progress{bars: mpb.New(mpb.WithOutput(s.errOut), mpb.WithWidth(40), mpb.WithRefreshRate(150*time.Millisecond))}
}

// start opens a bar and returns the function that closes it.
func (p *progress) start(what string) (done func()) {
	if p.bars == nil {
		return func() {}
	}
	began := time.Now()
	p.mu.Lock()
	p.bar = p.bars.AddBar(0,
		mpb.BarRemoveOnComplete(),
		mpb.PrependDecorators(decor.Name(what+" ", decor.WCSyncSpaceR)),
		mpb.AppendDecorators(decor.Any(func(s decor.Statistics) string { return far(s.Current, s.Total, time.Since(began)) })))
	bar := p.bar
	p.mu.Unlock()
	return func() {
		p.mu.Lock()
		p.bar = nil
		p.mu.Unlock()
		bar.Abort(true)
		bar.Wait()
	}
}

// far says how far a work is and how long the rest takes at the same pace;
// nothing of a work whose length is not known.
func far(done, total int64, since time.Duration) string {
	if done <= 0 || total <= 0 {
		return ""
	}
	left := time.Duration(float64(since) * float64(total-done) / float64(done)).Seconds()
	text := fmt.Sprintf("%.0f s", left)
	if left >= 99.5 {
		text = hoursMinutes(left)
	}
	return fmt.Sprintf("%3d %%  %s left", 100*done/total, text)
}

// set moves the open bar; it may be called from several goroutines.
func (p *progress) set(done, total int) {
	if p.bars == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.bar != nil {
		p.bar.SetTotal(int64(total), false)
		p.bar.SetCurrent(int64(done))
	}
}

func sha256Hex(b []byte) string {
	h := sha256.Sum256(b)
	return hex.EncodeToString(h[:])
}
