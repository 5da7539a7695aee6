package strategy

// slab hands out values cut from larger pieces of memory: for what is made in
// great numbers and kept as long as its owner.
type slab[T any] struct {
	rest []T
	size int // of the last piece
}

// mostSlab is the largest number of values in one piece.
const mostSlab = 4096

// take returns n zero values.
func (s *slab[T]) take(n int) []T {
	if len(s.rest) < n {
		s.size = min(max(2*s.size, 8*n), max(mostSlab, n))
		s.rest = make([]T, s.size)
	}
	out := s.rest[:n:n]
	s.rest = s.rest[n:]
	return out
}

// one returns a zero value.
func (s *slab[T]) one() *T { return &s.take(1)[0] }
