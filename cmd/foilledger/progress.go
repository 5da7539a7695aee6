package main

import (
	"crypto/sha256"
	"encoding/hex"
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
	p.mu.Lock()
	p.bar = p.bars.AddBar(0,
		mpb.BarRemoveOnComplete(),
		mpb.PrependDecorators(decor.Name(what+" ", decor.WCSyncSpaceR)),
		mpb.AppendDecorators(decor.Percentage(), decor.Name("  "), decor.AverageETA(decor.ET_STYLE_GO), decor.Name(" left")))
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
