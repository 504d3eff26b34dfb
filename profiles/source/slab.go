package source

// slab gives out parts of a text from blocks of memory, so that a file of a hundred parts
// costs a few allocations. A block lives as long as anything of it.
type slab[T any] struct {
	free []T
	size int // of a block
}

// The least and the most parts that a block has.
const (
	leastSlab = 4
	mostSlab  = 64
)

// slabFor makes blocks for about so many parts in all.
func slabFor[T any](parts int) slab[T] { return slab[T]{size: min(max(parts, leastSlab), mostSlab)} }

// one gives an empty part.
func (s *slab[T]) one() *T { return &s.some(1)[0] }

// some gives a row of empty parts, to which nothing can be appended in place.
func (s *slab[T]) some(n int) []T {
	if n > len(s.free) {
		s.free = make([]T, max(n, s.size))
	}
	row := s.free[:n:n]
	s.free = s.free[n:]
	return row
}
