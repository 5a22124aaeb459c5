// Command phototrack measures photos of numbered potted plants and says what changed. See README.md.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"phototrack/internal/fsx"
)

// Exit codes of all commands.
const (
	exitDone      = 0
	exitAttention = 1 // done, but some photos need attention
	exitFailed    = 2 // could not do it
)

// errAttention ends a command that did its work and found photos that need a person's eye.
var errAttention = errors.New("some photos need attention")

func main() {
	prepareConsole()
	// Ctrl-C and a closed terminal end the work in order: what is done is kept, workers are stopped. A second Ctrl-C
	// ends at once.
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	go func() { <-ctx.Done(); stop() }()
	err := newRoot().ExecuteContext(ctx)
	os.Exit(exitCode(err, os.Stderr))
}

// exitCode says on errs how a command ended, where there is something to say.
func exitCode(err error, errs io.Writer) int {
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errAttention):
		return exitAttention
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(errs, "Stopped. What was measured so far is kept; run the same command again to go on.")
		return exitFailed
	}
	fmt.Fprintln(errs, "phototrack: "+clean(err.Error()))
	if h := fsx.HintOf(err); h != "" {
		fmt.Fprintln(errs, "hint: "+clean(h))
	}
	return exitFailed
}
