package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"time"

	"github.com/spf13/cobra"

	"phototrack/internal/collection"
	"phototrack/internal/desk"
	"phototrack/internal/pipeline"
)

type deskOptions struct {
	port      int
	noBrowser bool
	fromMenu  bool
}

func deskCommand(a *app) *cobra.Command {
	var o deskOptions
	cmd := &cobra.Command{
		Use:   "desk",
		Short: "Open the local page to look, mark and correct",
		Long: `Serves the collection as a page in the browser of this computer: the month at a glance, each plant's series, each photo
with what was measured. Drop photos to have them measured, draw round what should count or not, correct a plant number
or date, note events, compose plates, compare two photos.

Only this computer can reach it, and only through the address that is printed. No network is needed. Stop it with Ctrl-C.

The entry in the desktop's menu starts it with --from-menu: the collection is then the folder Phototrack in your home
unless another is named; it is made at the first start. A desk that is open already is shown again, and what goes wrong
is shown in the browser.` + exitHelp,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if !o.fromMenu {
				return runDesk(cmd, a, o)
			}
			err := runDeskFromMenu(cmd, a, o)
			if err != nil && !errors.Is(err, context.Canceled) {
				showTrouble(cmd, err)
			}
			return err
		},
	}
	f := cmd.Flags()
	f.IntVar(&o.port, "port", 0, "port on the loopback address (default: a free one)")
	f.BoolVar(&o.noBrowser, "no-browser", false, "do not open the browser")
	f.BoolVar(&o.fromMenu, "from-menu", false, "start as from the desktop's menu, without a terminal")
	cmd.MarkFlagsMutuallyExclusive("from-menu", "no-browser")
	return cmd
}

func runDesk(cmd *cobra.Command, a *app, o deskOptions) error {
	d, l, err := openDesk(cmd, a, o)
	if err != nil {
		return err
	}
	address := d.Address(l)
	fmt.Fprintln(cmd.OutOrStdout(), address)
	if !o.noBrowser {
		openBrowser(d.Pass(l, "/"), func() { cmd.PrintErrln("No browser could be opened: open the address above in one.") })
	}
	return d.Serve(cmd.Context(), l)
}

func openDesk(cmd *cobra.Command, a *app, o deskOptions) (*desk.Desk, net.Listener, error) {
	c, err := a.open(cmd)
	if err != nil {
		return nil, nil, err
	}
	d, err := desk.New(desk.Options{Dir: c.Dir, Version: version,
		Pool: func(c *collection.Collection) (pipeline.Pool, error) { return pool(c, 0) }})
	if err != nil {
		return nil, nil, err
	}
	l, err := desk.Listen(o.port)
	return d, l, err
}

// soon is how long a browser that cannot start takes to say so. One that ends later was closed by its user.
const soon = 10 * time.Second

// openBrowser shows an address; instead is called, perhaps later, where that cannot be done. What it gives is closed when
// either is settled.
func openBrowser(address string, instead func()) (settled <-chan struct{}) {
	done := make(chan struct{})
	begun := time.Now()
	go func() {
		defer close(done)
		if err := browse(address); err != nil && time.Since(begun) < soon {
			instead()
		}
	}()
	return done
}
