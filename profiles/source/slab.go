package source

// slab gives out parts of a text from blocks of memory, so that a file of a hundred parts
// costs a few allocations. What it gave out lives as long as any of its block.
type slab[T any] struct{ free []T }

// The number of parts in the first block of a slab, and at most in a later one.
const (
	leastSlab = 8
	mostSlab  = 64
)

// one gives an empty part.
func (s *slab[T]) one() *T { return &s.some(1)[0] }

// some gives a row of empty parts, to which nothing can be appended in place.
func (s *slab[T]) some(n int) []T {
	if n > len(s.free) {
		size := min(max(leastSlab, 2*cap(s.free)), mostSlab)
		s.free = make([]T, max(n, size))
	}
	row := s.free[:n:n]
	s.free = s.free[n:]
	return row
}
