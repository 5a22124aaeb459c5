package main

import (
	"context"
	"strings"

	"github.com/spf13/cobra"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/publish"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

func plateCommand(a *app) *cobra.Command {
	var o publish.PlateOptions
	var dates, view string
	cmd := &cobra.Command{
		Use:   "plate PLANT...",
		Short: "Write a comparison plate: one plant's dates side by side, or plants against each other",
		Long: `Writes a plate of one plant at up to six dates, or of several plants beside or under each other, all at the same scale in mm, the
same colour correction and the same framing.

  phototrack plate 12                          the first to the latest session
  phototrack plate 12 44 --dates 2026-03,2026-07
  phototrack plate 12 --pdf --preset a4        at exact scale, for print
  phototrack plate 12 --moving                 a moving picture of all sessions` + exitHelp,
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return withStore(cmd, a, func(ctx context.Context, c *collection.Collection, st *series.Store) error {
				for _, arg := range args {
					n, err := c.Resolve(arg)
					if err != nil {
						return err
					}
					o.Plants = append(o.Plants, n...)
				}
				if dates != "" {
					o.Dates = strings.Split(dates, ",")
				}
				switch view {
				case "", "leaf", "root":
					o.View = record.View(view)
				default:
					return &fsx.HintError{What: clean(view) + " is not a view", Hint: "Use leaf or root."}
				}
				path, err := publish.Plate(ctx, c, st, o)
				if err != nil {
					return err
				}
				cmd.Printf("Wrote %s\n", path)
				return nil
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&dates, "dates", "", "days or months to show, with commas")
	f.StringVar(&view, "view", "", "leaf or root (default: what there is)")
	f.StringVar(&o.Preset, "preset", "wide", "size: screen, square, tall, a4, wide, fit (as high as what is on it)")
	f.StringVar(&o.Title, "title", "", "title of this plate, in place of the settings' one")
	f.StringVar(&o.Caption, "caption", "", "the line under it, likewise")
	f.BoolVar(&o.PDF, "pdf", false, "write a PDF at exact scale instead of a picture")
	f.BoolVar(&o.Moving, "moving", false, "write a moving picture (GIF) of the sessions, several plants side by side")
	f.StringVar(&o.Out, "out", ".", "folder")
	return cmd
}

func roundCommand(a *app) *cobra.Command {
	var out string
	cmd := &cobra.Command{
		Use:   "round",
		Short: "Write the sheet for the next photo round: what is due, last framing, what to do better",
		Long:  `Writes round.html and round.pdf: which plants and views are due, each with its last photo small, what to do better, a box to tick.` + exitHelp,
		Args:  cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return withStore(cmd, a, func(ctx context.Context, c *collection.Collection, st *series.Store) error {
				files, err := publish.Round(ctx, c, st, out, version)
				for _, f := range files {
					cmd.Printf("Wrote %s\n", f)
				}
				return err
			})
		},
	}
	cmd.Flags().StringVar(&out, "out", ".", "folder")
	return cmd
}
