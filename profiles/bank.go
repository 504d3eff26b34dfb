package profiles

// Bank is how many channels in a row one switch is for, 1 for a switch each.
type Bank int

// Around gives the first and the last of the channels that share a switch with one.
func (b Bank) Around(channel int) (first, last int) {
	size := max(int(b), 1)
	first = (channel-1)/size*size + 1
	return first, first + size - 1
}
