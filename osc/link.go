package osc

// Link carries packets to one desk and from it. It may lose, double and reorder them.
type Link interface {
	// Send hands one packet over for the desk. An error says that the packet was not sent; a later one may be.
	Send(packet []byte) error
	// Receive waits for a packet from the desk, copies it into the buffer and gives its length. What doesn't fit is cut
	// off. An error means that nothing will ever come again; after Close it is net.ErrClosed
	// (errors.Is). What passes is not reported as an error.
	Receive(buffer []byte) (int, error)
	// Close ends the link, and a Receive that waits.
	Close() error
}

// promptLink is a link whose Send never waits for the other side. The goroutine that receives may use it: on any other
// link it could wait for a desk that waits until it is heard.
type promptLink interface {
	Link
	sendsAtOnce()
}
