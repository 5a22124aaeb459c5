package main

import (
	"os"
	"strings"
	"unicode"

	"github.com/spf13/cobra"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/series"
)

// version is the program's, written into reports. A package sets it to its own (go build -ldflags "-X main.version=...").
var version = "0.1"

const exitHelp = `
Exit codes: 0 done; 1 done, but some photos need attention; 2 could not do it.`

// app is what the commands share.
type app struct {
	dir string // --collection
}

func newRoot() *cobra.Command {
	a := &app{}
	root := &cobra.Command{
		Use:   "phototrack",
		Short: "Measure photos of numbered potted plants and see what really changed",
		Long: `phototrack measures photos of numbered potted plants: leaf area, leaf colour, visible root length through a clear pot, and
parts such as flower spikes and storage organs on which you draw a line. The photos show the plant, its numbered tag and a
printed scale card. It keeps every number with its uncertainty and says what changed since last month, since a repot, and against comparison plants.

Begin with:
  phototrack init my-plants        make a collection
  phototrack card                  print the scale card and the tags
  phototrack check IMG_0412.jpg    see whether a photo will do
  phototrack run photos/           measure a folder of photos and write the month's report`,
		SilenceUsage: true, SilenceErrors: true,
		Version: version,
	}
	root.SetOut(os.Stdout)
	root.SetErr(os.Stderr)
	root.PersistentFlags().StringVar(&a.dir, "collection", "", "the collection's folder (default: PHOTOTRACK_COLLECTION, else the current folder)")
	root.AddCommand(initCommand(a), cardCommand(a), checkCommand(a), runCommand(a), reportCommand(a), plateCommand(a), roundCommand(a), eventCommand(a),
		answerCommand(a), exportCommand(a), marksCommand(a), doctorCommand(a), backupCommand(a), restoreCommand(a), mergeCommand(a), deskCommand(a), workerCommand(a), docsCommand())
	return root
}

// collectionDir is the folder that --collection, the environment or the current folder names.
func (a *app) collectionDir() string {
	if a.dir != "" {
		return a.dir
	}
	if d := os.Getenv("PHOTOTRACK_COLLECTION"); d != "" {
		return d
	}
	return "."
}

// open opens the collection and says what is wrong in its files.
func (a *app) open(cmd *cobra.Command) (*collection.Collection, error) {
	c, err := collection.Open(a.collectionDir())
	if err != nil {
		return nil, err
	}
	sayOpened(cmd, c)
	return c, nil
}

// openToWrite takes the right to write in the collection and opens it then; close the lock to give the right up.
func (a *app) openToWrite(cmd *cobra.Command) (*collection.Collection, *fsx.Lock, error) {
	c, lock, err := collection.OpenToWrite(a.collectionDir())
	if err != nil {
		return nil, nil, err
	}
	sayOpened(cmd, c)
	return c, lock, nil
}

func sayOpened(cmd *cobra.Command, c *collection.Collection) {
	for _, s := range c.Settled {
		cmd.PrintErrln(clean(s))
	}
	for _, p := range c.Problems {
		cmd.PrintErrln(clean(p.Error()))
	}
}

// openStore opens the collection's store for reading; it must have been written by a run before.
func openStore(c *collection.Collection) (*series.Store, error) {
	if err := c.CheckStore(); err != nil {
		return nil, err
	}
	return series.OpenReader(c.StorePath())
}

// clean makes text from outside safe for a terminal: control characters, escape sequences included, become '?'.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '\n' || r == '\t' || !unicode.IsControl(r) && !unicode.Is(unicode.Cf, r) {
			return r
		}
		return '?'
	}, s)
}
