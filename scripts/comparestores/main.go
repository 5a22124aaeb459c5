// Command comparestores sets what two builds of the program have stored of the same photos side by side:
//
//	go run ./scripts/comparestores A/phototrack.db B/phototrack.db
//
// For each quantity it prints in how many photos the values are the same to the last bit, and how far apart they are at most, as
// a share of their uncertainty u95. It fails where that is more than a thousandth, or where a photo has another status, other
// reasons or other quantities.
package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"

	"phototrack/internal/record"
	"phototrack/internal/series"
)

// limit is the most that two builds may differ by, as a share of u95.
const limit = 0.001

func main() {
	if len(os.Args) != 3 {
		fmt.Fprintln(os.Stderr, "comparestores: name two stores")
		os.Exit(2)
	}
	ok, err := compare(os.Args[1], os.Args[2])
	if err != nil {
		fmt.Fprintln(os.Stderr, "comparestores:", err)
		os.Exit(2)
	}
	if !ok {
		os.Exit(1)
	}
}

// line is a row of the table.
type line struct {
	quantity       string
	n, same        int
	worst, u95Diff float64 // shares of u95
	photo          string  // where it is worst
}

func compare(a, b string) (ok bool, err error) {
	one, err := photos(a)
	if err != nil {
		return false, err
	}
	two, err := photos(b)
	if err != nil {
		return false, err
	}
	var faults []string
	lines := map[string]*line{}
	for sum, p := range one {
		q, found := two[sum]
		if !found {
			faults = append(faults, p.Name+" is only in the first")
			continue
		}
		faults = append(faults, set(p, q, lines)...)
	}
	for sum, p := range two {
		if _, found := one[sum]; !found {
			faults = append(faults, p.Name+" is only in the second")
		}
	}
	fmt.Printf("%-28s %6s %6s %14s %14s  %s\n", "quantity", "photos", "equal", "most of u95", "u95 itself", "worst in")
	names := make([]string, 0, len(lines))
	for name := range lines {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		l := lines[name]
		fmt.Printf("%-28s %6d %6d %14.2g %14.2g  %s\n", l.quantity, l.n, l.same, l.worst, l.u95Diff, l.photo)
		if l.worst > limit || l.u95Diff > limit {
			faults = append(faults, fmt.Sprintf("%s differs by more than %g of u95", name, limit))
		}
	}
	slices.Sort(faults)
	for _, f := range faults {
		fmt.Println("NOT OK:", f)
	}
	return len(faults) == 0 && len(one) > 0, nil
}

// set puts two results of one photo into the table, and says what differs beside the numbers.
func set(p, q *record.Photo, lines map[string]*line) (faults []string) {
	if p.Status != q.Status || reasons(p) != reasons(q) {
		faults = append(faults, fmt.Sprintf("%s is %s (%s) and %s (%s)", p.Name, p.Status, reasons(p), q.Status, reasons(q)))
	}
	if len(p.Quantities) != len(q.Quantities) {
		faults = append(faults, fmt.Sprintf("%s has %d quantities and %d", p.Name, len(p.Quantities), len(q.Quantities)))
	}
	for _, x := range p.Quantities {
		y, found := q.FindPart(x.Name, x.Part)
		if !found {
			faults = append(faults, p.Name+" has no "+string(x.Name)+" in the second")
			continue
		}
		l := lines[string(x.Name)]
		if l == nil {
			l = &line{quantity: string(x.Name)}
			lines[string(x.Name)] = l
		}
		l.n++
		if x.Value == y.Value && x.U95 == y.U95 {
			l.same++
			continue
		}
		u := max(x.U95, math.SmallestNonzeroFloat64)
		if d := math.Abs(x.Value-y.Value) / u; d >= l.worst {
			l.worst, l.photo = d, p.Name
		}
		l.u95Diff = max(l.u95Diff, math.Abs(x.U95-y.U95)/u)
	}
	return faults
}

func reasons(p *record.Photo) string {
	var codes []string
	for _, r := range p.Reasons {
		codes = append(codes, string(r.Code))
	}
	slices.Sort(codes)
	return strings.Join(codes, ",")
}

func photos(path string) (map[string]*record.Photo, error) {
	s, err := series.OpenReader(path)
	if err != nil {
		return nil, err
	}
	defer s.Close()
	all, err := s.All(context.Background())
	if err != nil {
		return nil, err
	}
	out := map[string]*record.Photo{}
	for i := range all {
		out[all[i].SHA256] = &all[i]
	}
	return out, nil
}
