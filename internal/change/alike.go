package change

import "phototrack/internal/record"

// alike is the series without the sessions whose areas were drawn by hand in another way than on most (among equals, than on
// the latest): what was left out or kept by hand on some photos only would pass for a slope or an effect of the plant's. Only
// leaves of the whole plant are concerned; a root length is that outside of an area, and its interval allows for the rest.
func (s *series) alike() *series {
	if s.view != record.Leaf || s.part != "" {
		return s
	}
	n, best := map[string]int{}, ""
	for i := range s.points {
		n[s.points[i].areas]++
	}
	if len(n) < 2 {
		return s
	}
	for i := range s.points {
		if a := s.points[i].areas; n[a] >= n[best] {
			best = a
		}
	}
	out := *s
	out.points = nil
	for i := range s.points {
		if s.points[i].areas == best {
			out.points = append(out.points, s.points[i])
		}
	}
	return &out
}

// unlike are the days from one to another, both included, whose sessions alike leaves out.
func (s *series) unlike(from, to string) (days []string) {
	kept := s.alike()
	for i, j := 0, 0; i < len(s.points); i++ {
		if j < len(kept.points) && kept.points[j].Date == s.points[i].Date {
			j++
		} else if d := s.points[i].Date; d >= from && d <= to {
			days = append(days, d)
		}
	}
	return days
}
