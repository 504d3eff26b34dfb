#!/bin/sh
# Records the packets in this folder again, from what another OSC implementation sends over loopback.
#
# Each .hex file has one packet: first a comment with the exact command that sent it, then its bytes. Blank lines part
# the packets where a command sent several. A test in package osc compares each with the messages that it should hold.
#
# Needs Debian's liblo-tools and liblo-dev (recorded with 0.31-1), a C compiler and Go. Where liblo-dev is unpacked
# elsewhere, say so in CPPFLAGS and LDFLAGS.
set -eu
cd "$(dirname "$0")"
built=$(mktemp -d)
trap 'rm -rf "$built"' EXIT
cc ${CPPFLAGS-} -o "$built/bundles" bundles.c ${LDFLAGS-} -llo
PATH=$built:$PATH go run record.go
