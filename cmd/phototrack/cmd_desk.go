package main

import (
	"fmt"
	"os/exec"

	"github.com/spf13/cobra"

	"phototrack/internal/collection"
	"phototrack/internal/desk"
	"phototrack/internal/pipeline"
)

func deskCommand(a *app) *cobra.Command {
	var port int
	var noBrowser bool
	cmd := &cobra.Command{
		Use:   "desk",
		Short: "Open the local page to look, mark and correct",
		Long: `Serves the collection as a page in the browser of this computer: the month at a glance, each plant's series, each photo
with what was measured. Drop photos to have them measured, draw round what should count or not, correct a plant number
or date, note events, compose plates, compare two photos.

Only this computer can reach it, and only through the address that is printed. No network is needed. Stop it with Ctrl-C.` + exitHelp,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			c, err := a.open(cmd)
			if err != nil {
				return err
			}
			d, err := desk.New(desk.Options{Dir: c.Dir, Version: version,
				Pool: func(c *collection.Collection) (pipeline.Pool, error) { return pool(c, 0) }})
			if err != nil {
				return err
			}
			l, err := desk.Listen(port)
			if err != nil {
				return err
			}
			address := d.Address(l)
			fmt.Fprintln(cmd.OutOrStdout(), address)
			if !noBrowser {
				openBrowser(cmd, address)
			}
			return d.Serve(cmd.Context(), l)
		},
	}
	f := cmd.Flags()
	f.IntVar(&port, "port", 0, "port on the loopback address (default: a free one)")
	f.BoolVar(&noBrowser, "no-browser", false, "do not open the browser")
	return cmd
}

// openBrowser shows the page. Where that cannot be done the address stands on the screen all the same.
func openBrowser(cmd *cobra.Command, address string) {
	show := exec.Command("xdg-open", address)
	if err := show.Start(); err != nil {
		cmd.PrintErrln("No browser could be opened: open the address above in one.")
		return
	}
	go show.Wait()
}
