// Package osc is the bottom layer: OSC packets, and the links that carry them.
//
// It knows no desk, no profile and no file. What flows up is messages that were checked before they were decoded, and
// answers to questions; what flows down is messages, paced and in order. The wire format is that of Open Sound Control
// 1.0 and 1.1, which are open specifications.
//
// [Decode] and [Message.Encode] turn packets into messages and back, [Match] compares an address pattern with an address,
// a [Link] carries packets ([UDP] in datagrams, [TCP] on a stream that a [FrameReader] cuts up), and a [Conversation] tells
// and asks over a link that may lose, double and reorder packets.
//
// Nothing that arrives from the network can cause a panic, a loop, or more memory than a small multiple of its own size.
package osc
