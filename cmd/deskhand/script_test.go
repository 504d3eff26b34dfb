package main

import (
	"os"
	"os/exec"
	"os/signal"
	"syscall"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"deskhand": main, "powerless": powerless})
}

// TestCommands runs the scripts, one file a command. Each begins in an empty folder
// with no settings of the user's, and talks to mock desks on the loopback only.
//
// Beyond testscript's own, a script can say:
//
//	exits N COMMAND...          the command ends with exactly this code
//	prints FILE                 the last command's whole standard output is FILE's, see prints
//	complains FILE              the same of its standard error
//	json PATH VALUE             a value in the one JSON object of the last output, see findJSON
//	exits N powerless COMMAND... the same of a command that root has no more rights in than others
//	edit FILE OLD NEW           puts NEW in place of OLD, which must be there once
//	quick PROFILE               gives the book a copy of a profile that is quick to read
//	mockdesk [FLAGS] PROFILE    starts a mock desk and sets $DESK; see mockDesk
//	hand PARAMETER VALUE        moves a control of it
//	holds PARAMETER VALUE       what it holds, as the trade says it
//	settings [-but NAME] [-once] TOTAL CHANGING
//	                            how many settings it took since the last count
//	misbehaves [FLAGS]          the network and the desk make trouble from now on
//	fails N                     the desk goes off after N more settings
//	wakes                       it is on again
//	process [-says PATTERN] NAME COMMAND...
//	                            starts a command and waits for the first line it prints
//	types NAME LINE             types a line at it
//	closes NAME                 ends its input
//	says NAME PATTERN           waits for a line of its output
//	ends NAME [SIGNAL] N        it ends with this code; a signal is sent to it first
func TestCommands(t *testing.T) {
	if _, err := exec.LookPath("git"); err != nil {
		t.Fatal("git is needed, as for deskhand diff FILE@REVISION: ", err)
	}
	// Where the tests run with hang-ups ignored, as under nohup, the commands they start
	// would ignore them, too; what is caught here they begin with as usual.
	hangUp := make(chan os.Signal, 1)
	signal.Notify(hangUp, syscall.SIGHUP)
	t.Cleanup(func() { signal.Stop(hangUp) })
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("NO_COLOR", "1")
			e.Setenv("GORACE", "atexit_sleep_ms=0") // or each command waits a second for races at its end
			e.Setenv("TZ", "UTC")
			e.Setenv("HOME", e.WorkDir)
			e.Setenv("GIT_CONFIG_NOSYSTEM", "1")
			e.Setenv("GIT_CONFIG_GLOBAL", os.DevNull)
			for _, who := range []string{"AUTHOR", "COMMITTER"} {
				e.Setenv("GIT_"+who+"_NAME", "sound desk")
				e.Setenv("GIT_"+who+"_EMAIL", "sound@localhost")
			}
			newStage(e)
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits, "prints": prints, "complains": complains, "json": findJSON, "edit": edit,
			"mockdesk": mockDesk, "hand": hand, "holds": holds, "settings": settings, "misbehaves": misbehaves,
			"quick": quick, "fails": fails, "wakes": wakes,
			"process": startProcess, "types": types, "closes": closes, "says": says, "ends": ends,
		},
	})
}
