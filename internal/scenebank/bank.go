// Package scenebank is a bank of photos of plants that do not change, each rendered by package scenemaker with pose, depth,
// turn, light, exposure and noise drawn anew, and really measured. Tests draw collections from it and count what package
// change says of them: how often a plant is falsely called changed, how often a true change is seen, how often an
// interval holds the truth. The noise in it is that of the measuring, not a model's.
//
// The measured values are kept in testdata/bank.csv; `make simulate` renders and measures all of it anew. Any photo of
// the bank can be made again from its place in it (Place), so that a test can show that the bank still is what the program
// measures. It is no part of the program.
package scenebank

import (
	"math/rand/v2"
	"time"

	"phototrack/internal/scenemaker"
)

// Size of the bank.
const (
	Plants   = 60 // what can be measured anew in half an hour
	Sessions = 6
	Levels   = 3 // of true change
)

// Growth and Purpling are the true changes by level, from 1: relative of the area, and of each leaf that turns purple.
const (
	Growth   = 0.04
	Purpling = 0.02
)

// Place is a photo's place in the bank. Plants count from 1, sessions and replicates from 0. Level 0 is an unchanged
// plant; sessions of a changed one are one each and lie after the others.
type Place struct {
	Plant, Session, Replicate, Level int
}

// Replicates is how many photos a plant has of each unchanged session: one, two or three.
func Replicates(plant int) int { return []int{3, 1, 2, 1}[plant%4] }

// Places are all photos of the bank, in order.
func Places() (out []Place) {
	for p := 1; p <= Plants; p++ {
		for s := range Sessions {
			for r := range Replicates(p) {
				out = append(out, Place{p, s, r, 0})
			}
		}
		for l := 1; l <= Levels; l++ {
			out = append(out, Place{p, Sessions, 0, l})
		}
	}
	return
}

// seed of the whole bank: another one gives another bank.
const seed = 20260314

func stream(kind, a, b, c int) *rand.Rand {
	return rand.New(rand.NewPCG(seed+uint64(kind), uint64(a)<<32|uint64(b)<<16|uint64(c)))
}

// Scene is the photo at a place, ready to be rendered. The plant and its grower are the same at all places of a plant,
// the day's set-up at all replicates of a session.
func Scene(at Place) *scenemaker.Scene {
	r := stream(0, at.Plant, 0, 0)
	plant := scenemaker.Grow(r, at.Plant)
	habit := scenemaker.NewHabit(r)
	if at.Level > 0 {
		plant = plant.Grown(1+Growth*float64(at.Level), Purpling*float64(at.Level))
	}
	day := time.Date(2025, time.Month(1+at.Session), 5, 10, 0, 0, 0, time.UTC)
	setting := scenemaker.SetUp(stream(1, at.Plant, at.Session, at.Level), plant, habit, day)
	return scenemaker.Shoot(stream(2+at.Replicate, at.Plant, at.Session, at.Level), setting)
}
