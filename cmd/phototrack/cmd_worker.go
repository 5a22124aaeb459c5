package main

import (
	"os"
	"time"

	"github.com/spf13/cobra"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/pipeline"
)

// workerCommand is what a measuring process runs. It is not for people.
func workerCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use: "worker", Hidden: true, Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			var c *collection.Collection
			if a.dir != "" {
				var err error
				if c, err = collection.Open(a.dir); err != nil {
					return err
				}
			}
			return pipeline.Serve(os.Stdin, os.Stdout, c, func() { os.Exit(exitFailed) })
		},
	}
}

// pool makes the pool of measuring processes: this program again, as worker. c may be nil.
func pool(c *collection.Collection, workers int) (pipeline.Pool, error) {
	self, err := os.Executable()
	if err != nil {
		return pipeline.Pool{}, err
	}
	p := pipeline.Pool{Command: []string{self, "worker"}, Workers: workers, Limit: gate.DefaultSeconds * time.Second, MaxRSS: gate.DefaultMemoryMB * 1_000_000}
	if c != nil {
		p.Command = append(p.Command, "--collection", c.Dir)
		p.Limit = time.Duration(c.Settings.Run.TimeLimitS) * time.Second
		p.MaxRSS = int64(c.Settings.Run.MemoryLimitMB) * 1_000_000
		if workers <= 0 {
			p.Workers = c.Settings.Run.Workers
		}
	}
	if p.Workers <= 0 {
		p.Workers = pipeline.WorkersFor(collection.DefaultWorkers())
	}
	return p, nil
}
