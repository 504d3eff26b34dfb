//go:build !linux

package main

import (
	"fmt"
	"os"
	"os/exec"
)

// powerless runs a command. Away from Linux, tests aren't run by one whom rights say nothing to.
func powerless() {
	command := exec.Command(os.Args[1], os.Args[2:]...)
	command.Stdin, command.Stdout, command.Stderr = os.Stdin, os.Stdout, os.Stderr
	if err := command.Run(); command.ProcessState == nil {
		fmt.Fprintln(os.Stderr, "powerless:", err)
		os.Exit(125)
	}
	os.Exit(command.ProcessState.ExitCode())
}
