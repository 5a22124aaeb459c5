package main

import (
	"context"

	"github.com/spf13/cobra"

	"phototrack/internal/collection"
	"phototrack/internal/publish"
	"phototrack/internal/series"
)

func exportCommand(a *app) *cobra.Command {
	var out string
	cmd := &cobra.Command{
		Use:   "export --out DIR",
		Short: "Write all numbers as CSV files",
		Long: `Writes measurements.csv, sessions.csv, changes.csv, trends.csv, events_effect.csv and events_pooled.csv, with a
description of their columns (datapackage.json, Frictionless Table Schema) for R, Python and spreadsheets.` + exitHelp,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return withStore(cmd, a, func(ctx context.Context, c *collection.Collection, st *series.Store) error {
				files, err := publish.Export(ctx, c, st, out)
				for _, f := range files {
					cmd.Printf("Wrote %s\n", f)
				}
				return err
			})
		},
	}
	cmd.Flags().StringVar(&out, "out", "", "folder for the files")
	cmd.MarkFlagRequired("out")
	return cmd
}
