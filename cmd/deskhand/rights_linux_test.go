package main

import (
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"syscall"
)

// powerless runs a command without what lets root pass over the rights of files, so that scripts about rights
// say the same whoever runs them: powerless COMMAND...
func powerless() {
	runtime.LockOSThread() // a process is what its thread was when it began
	if os.Geteuid() == 0 {
		const dropFromBoundingSet = 24                  // PR_CAPBSET_DROP, <linux/prctl.h>
		for _, capability := range []uintptr{1, 2, 3} { // CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH, CAP_FOWNER
			if _, _, err := syscall.RawSyscall(syscall.SYS_PRCTL, dropFromBoundingSet, capability, 0); err != 0 {
				fmt.Fprintln(os.Stderr, "powerless:", err)
				os.Exit(125)
			}
		}
	}
	name, err := exec.LookPath(os.Args[1])
	if err == nil {
		err = syscall.Exec(name, os.Args[1:], os.Environ())
	}
	fmt.Fprintln(os.Stderr, "powerless:", err)
	os.Exit(125)
}
