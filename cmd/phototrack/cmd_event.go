package main

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/publish"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

func eventCommand(a *app) *cobra.Command {
	var pot string
	cmd := &cobra.Command{
		Use:   "event DATE PLANTS EVENT [NOTE]",
		Short: "Note something done to plants: a repot, a move, a feed",
		Long: `Adds a line to events.csv. PLANTS is a number, a list or range such as 3,7-12, or the name of a group. EVENT is one of
` + strings.Join(collection.EventKinds(), ", ") + `. A photo taken on the day of an event counts as taken before it.

  phototrack event 2026-04-18 12 repot "fresh mix and one size up"
  phototrack event 2026-03-21 31 repot --pot 120,100,125` + exitHelp,
		Args: cobra.RangeArgs(3, 4),
		RunE: func(cmd *cobra.Command, args []string) error {
			c, lock, err := a.openToWrite(cmd)
			if err != nil {
				return err
			}
			defer lock.Close()
			var p record.Pot
			if pot != "" {
				if p, err = collection.ParsePot(pot); err != nil {
					return err
				}
			}
			note := ""
			if len(args) == 4 {
				note = args[3]
			}
			plants, err := c.AppendEvent(args[0], args[1], args[2], note, p)
			if err != nil {
				return err
			}
			if day := c.EventLines[len(c.EventLines)-1].Date; day > time.Now().Format(time.DateOnly) {
				cmd.PrintErrf("%s lies in the future: the event is noted, and counts from that day on. If the date was a slip, change it on the desk page or in events.csv.\n", day)
			}
			cmd.Printf("Noted in events.csv: %s on %s for %s.\n", args[2], args[0], words.Count(len(plants), "plant", "plants"))
			return nil
		},
	}
	cmd.Flags().StringVar(&pot, "pot", "", "the new clear pot's inside sizes in mm: TOP,BOTTOM,HEIGHT")
	return cmd
}

func answerCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "answer PLANT RULE [NOTE]",
		Short: "Mark a watch rule as dealt with for a plant",
		Long: `A watch rule that is reached stays in the report until you say what was done. RULE is its line in watch.csv as the report gives it
(2 for the first rule), or its quantity where only one rule has that.` + exitHelp,
		Args: cobra.RangeArgs(2, 3),
		RunE: func(cmd *cobra.Command, args []string) error {
			c, lock, err := a.openToWrite(cmd)
			if err != nil {
				return err
			}
			defer lock.Close()
			n, err := strconv.Atoi(args[0])
			if _, listed := c.Plant(n); err != nil || !listed {
				return &fsx.HintError{What: fmt.Sprintf("%q is not a plant of plants.csv", clean(args[0])), Hint: "Give the plant's number."}
			}
			var hit []record.WatchRule
			for _, r := range c.Rules {
				if strconv.Itoa(r.Line) == args[1] || string(r.Quantity) == args[1] {
					hit = append(hit, r)
				}
			}
			if len(hit) != 1 {
				return &fsx.HintError{What: fmt.Sprintf("%d rules of watch.csv answer to %q", len(hit), clean(args[1])), Hint: "Give the rule's line number in watch.csv, as the report shows it."}
			}
			if fired, err := hasFired(cmd, c, n, hit[0]); err != nil {
				return err
			} else if !fired {
				return &fsx.HintError{What: fmt.Sprintf("the rule of line %d (%s) has not been reached for plant %d, so there is nothing to deal with", hit[0].Line, hit[0].Quantity, n),
					Hint: "The report names the rules that are reached; an answer given before would hide the rule once it is."}
			}
			note := ""
			if len(args) == 3 {
				note = args[2]
			}
			if err := c.AppendAnswer(n, hit[0], note); err != nil {
				return err
			}
			cmd.Printf("Noted: the rule on %s is dealt with for plant %d.\n", hit[0].Quantity, n)
			return nil
		},
	}
}

// hasFired says whether a watch rule was reached for a plant at any time.
func hasFired(cmd *cobra.Command, c *collection.Collection, plant int, rule record.WatchRule) (bool, error) {
	st, err := openStore(c)
	if err != nil {
		return false, err
	}
	defer st.Close()
	photos, err := st.All(cmd.Context())
	if err != nil {
		return false, err
	}
	for _, h := range publish.Analyze(c, photos, nil, "", "").Watch {
		if h.Plant == plant && h.Rule.Line == rule.Line && h.State != "near" {
			return true, nil
		}
	}
	return false, nil
}
