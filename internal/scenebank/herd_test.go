package scenebank_test

import (
	"fmt"
	"math/rand/v2"
	"sort"
	"time"

	"phototrack/internal/change"
	"phototrack/internal/record"
	"phototrack/internal/scenebank"
)

// shelf is the bank by plant: the photos of each unchanged session, and the changed photo of each level.
type shelf struct {
	plants   []int
	sessions map[int][][]*scenebank.Row
	changed  map[int]map[int]*scenebank.Row
}

func shelve(rows []scenebank.Row) *shelf {
	s := &shelf{sessions: map[int][][]*scenebank.Row{}, changed: map[int]map[int]*scenebank.Row{}}
	for i := range rows {
		r := &rows[i]
		if s.sessions[r.Plant] == nil {
			s.sessions[r.Plant] = make([][]*scenebank.Row, scenebank.Sessions)
			s.changed[r.Plant] = map[int]*scenebank.Row{}
			s.plants = append(s.plants, r.Plant)
		}
		if r.Level > 0 {
			s.changed[r.Plant][r.Level] = r
		} else {
			s.sessions[r.Plant][r.Session] = append(s.sessions[r.Plant][r.Session], r)
		}
	}
	sort.Ints(s.plants)
	return s
}

// plan says how a herd is drawn: so many sessions of each plant in any order, since a plant that does not change has none;
// with all replicates or the first photo alone; and the level of true change in the last session, 0 for none.
type plan struct {
	months     int
	replicates bool
	level      func(plant int) int
}

// herd draws a collection of all plants of the bank. lastRows are the photos of each plant's last two sessions.
func (s *shelf) herd(rng *rand.Rand, p plan) (in change.Input, lastTwo map[int][2]*scenebank.Row) {
	in.Settings = change.DefaultSettings()
	in.From = fmt.Sprintf("2025-%02d-01", p.months)
	lastTwo = map[int][2]*scenebank.Row{}
	for _, n := range s.plants {
		in.Plants = append(in.Plants, record.Plant{Number: n})
		order := rng.Perm(scenebank.Sessions)[:p.months]
		for m, k := range order {
			rows := s.sessions[n][k]
			if !p.replicates {
				rows = rows[:1]
			}
			if l := level(p, n); l > 0 && m == p.months-1 {
				rows = []*scenebank.Row{s.changed[n][l]}
			}
			at := time.Date(2025, time.Month(m+1), 3+rng.IntN(5), 10, 0, 0, 0, time.UTC)
			for i, r := range rows {
				in.Photos = append(in.Photos, r.Photo(n, at.Add(time.Duration(i)*time.Minute), fmt.Sprintf("%03d_%d_%d.jpg", n, m, i)))
			}
			two := lastTwo[n]
			two[0], two[1] = two[1], rows[0]
			lastTwo[n] = two
		}
	}
	return
}

func level(p plan, plant int) int {
	if p.level == nil {
		return 0
	}
	return p.level(plant)
}

// last are the comparisons of each plant's last session with the one before.
func last(a change.Analysis) (out []record.Change) {
	for _, c := range a.Changes {
		if c.Basis == record.BasisLast && c.Verdict != record.TooFew {
			out = append(out, c)
		}
	}
	return
}

func moved(c *record.Change) bool { return c.Verdict == record.Rose || c.Verdict == record.Fell }
