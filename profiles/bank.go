package profiles

// Bank gives the first and the last of the channels that share a switch with one, where
// each switch is for size channels in a row: [Control.Bank].
func Bank(size, channel int) (first, last int) {
	size = max(size, 1)
	first = (channel-1)/size*size + 1
	return first, first + size - 1
}
