package main

import (
	"strings"

	"github.com/spf13/cobra"

	"phototrack/internal/collection"
)

func initCommand(*app) *cobra.Command {
	return &cobra.Command{
		Use:   "init DIR",
		Short: "Make an empty collection and say what to do next",
		Long: `Makes a collection: a folder with the lists you keep (plants, events, watch rules, card prints, settings) and the
places for photos and reports. Nothing that is there already is overwritten.` + exitHelp,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			made, err := collection.Init(args[0])
			if err != nil {
				return err
			}
			if len(made) == 0 {
				cmd.Printf("%s is a collection already; nothing was changed.\n", args[0])
				return nil
			}
			cmd.Printf("Made the collection %s. In it:\n", args[0])
			for _, m := range made {
				cmd.Printf("  %s\n", m)
			}
			cmd.Printf(`
What to do next:
     cd %s
  1. Write your plants into %s: number, name, group; for clear pots their inside sizes.
  2. Print the scale card and the tags:    phototrack card
  3. Lay a steel rule on the card's ruler and say what it says:    phototrack card --measured 99.4,89.6
  4. Photograph each plant with card and tag in the frame, copy the photos into %s, and type:    phototrack run
Or do all of this in the browser:    phototrack desk
`, quoted(args[0]), collection.PlantsFile, collection.InboxDir)
			return nil
		},
	}
}

// quoted is a folder as a shell takes it.
func quoted(dir string) string {
	if strings.ContainsAny(dir, " '\"$&()*;<>?[]`|~#!\\") {
		return "'" + strings.ReplaceAll(dir, "'", `'\\''`) + "'"
	}
	return dir
}
