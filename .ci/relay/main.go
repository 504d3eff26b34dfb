// Command relay stands between Deskhand and a desk and lets a third program see what
// Deskhand sends: every packet from the first program that speaks to LISTEN goes on to
// DESK, and a copy of it to COPY; what the desk answers goes back. It is for the live
// checks only, runs on loopback, and ends by itself after a minute.
//
//	relay LISTEN DESK COPY
package main

import (
	"fmt"
	"net"
	"os"
	"sync/atomic"
	"time"
)

func main() {
	if err := relay(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "relay:", err)
		os.Exit(1)
	}
}

func relay(arguments []string) error {
	if len(arguments) != 3 {
		return fmt.Errorf("give LISTEN DESK COPY, each as HOST:PORT")
	}
	at, err := net.ResolveUDPAddr("udp", arguments[0])
	if err != nil {
		return err
	}
	near, err := net.ListenUDP("udp", at)
	if err != nil {
		return err
	}
	far, err := net.Dial("udp", arguments[1])
	if err != nil {
		return err
	}
	copyTo, err := net.Dial("udp", arguments[2])
	if err != nil {
		return err
	}
	time.AfterFunc(time.Minute, func() { os.Exit(0) })

	var speaker atomic.Pointer[net.UDPAddr]
	go func() {
		buffer := make([]byte, 1<<16)
		for {
			n, err := far.Read(buffer)
			if to := speaker.Load(); err == nil && to != nil {
				_, _ = near.WriteToUDP(buffer[:n], to)
			}
		}
	}()
	buffer := make([]byte, 1<<16)
	for {
		n, from, err := near.ReadFromUDP(buffer)
		if err != nil {
			return err
		}
		speaker.Store(from)
		_, _ = far.Write(buffer[:n])
		_, _ = copyTo.Write(buffer[:n])
	}
}
