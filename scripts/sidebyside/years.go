package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"phototrack/internal/collection"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// reportOfYears makes a collection of plants in two views over months, and prints how long the built program takes for a
// report of it, its memory and the size of what it wrote. The photos are two measured samples whose numbers are
// moved from month to month; every other plant is repotted halfway.
func reportOfYears(program string, plants, months int, options []string) error {
	dir, err := os.MkdirTemp("", "years")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	dir = filepath.Join(dir, "bench")
	if err := fillYears(dir, plants, months); err != nil {
		return err
	}
	cmd := exec.Command(program, append([]string{"report", "--collection", dir}, options...)...)
	cmd.Stderr = os.Stderr
	start := time.Now()
	if err := cmd.Run(); err != nil {
		return err
	}
	took := time.Since(start)
	u, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage)
	if !ok {
		return errors.New("no figures of the process")
	}
	var page int64
	err = filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err == nil && strings.HasSuffix(p, ".html") {
			if info, err := d.Info(); err == nil {
				page = max(page, info.Size())
			}
		}
		return err
	})
	fmt.Printf("report of %d plants x 2 views x %d months (%d sessions): %.1f s, peak %d MB, page %.1f MB\n",
		plants, months, 2*plants*months, took.Seconds(), u.Maxrss>>10, float64(page)/1e6)
	return err
}

func fillYears(dir string, plants, months int) error {
	if _, err := collection.Init(dir); err != nil {
		return err
	}
	now := time.Now() // early in the month: the 31st plus a month would be the month after next
	start := time.Date(now.Year(), now.Month()-time.Month(months), 3, 12, 0, 0, 0, time.UTC)
	lines := "number,name,group,pot_top_mm,pot_bottom_mm,pot_height_mm,from,until,note\n"
	events := "date,plant,event,note,pot_top_mm,pot_bottom_mm,pot_height_mm\n"
	for n := 1; n <= plants; n++ {
		lines += fmt.Sprintf("%d,Plant %d,group %d,120,90,110,,,\n", n, n, n%7)
		if n%2 == 0 {
			events += fmt.Sprintf("%s,%d,repot,,120,90,110\n", start.AddDate(0, months/2, n%9).Format(time.DateOnly), n)
		}
	}
	for name, text := range map[string]string{"plants.csv": lines, "events.csv": events} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			return err
		}
	}
	c, err := collection.Open(dir)
	if err != nil {
		return err
	}
	var samples []record.Photo
	for _, file := range views {
		data, err := os.ReadFile(filepath.Join("samples/photos", file))
		if err != nil {
			return err
		}
		samples = append(samples, pipeline.Measure(data, pipeline.Job{Name: file, Pictures: true}, c))
	}
	st, err := series.Open(c.StorePath())
	if err != nil {
		return err
	}
	defer st.Close()
	if err := fillStore(st, samples, start, plants, months); err != nil {
		return err
	}
	all, err := st.All(context.Background())
	if err == nil && len(all) != 2*plants*months {
		err = fmt.Errorf("%d photos are stored, not %d", len(all), 2*plants*months)
	}
	return err
}

// fillStore puts a photo of each view for each plant and month, made of the samples, into the store.
func fillStore(st *series.Store, samples []record.Photo, start time.Time, plants, months int) error {
	rng := rand.New(rand.NewPCG(1, 2))
	for n := 1; n <= plants; n++ {
		growth := 0.02 * rng.NormFloat64()
		for m := range months {
			for _, p := range samples {
				moved(&p, rng, n, math.Exp(growth*float64(m)))
				p.Taken.Time = start.AddDate(0, m, rng.IntN(5))
				p.Name = fmt.Sprintf("%03d_%s_%s.jpg", n, p.Taken.Time.Format("2006-01"), p.View)
				sum := sha256.Sum256([]byte(p.Name))
				p.SHA256 = hex.EncodeToString(sum[:])
				if err := st.Put(context.Background(), &p); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// moved makes p a photo of plant n: sizes times the growth and a little noise.
func moved(p *record.Photo, rng *rand.Rand, n int, growth float64) {
	p.Plant, p.Status, p.Reasons = n, record.Accepted, nil
	p.Quantities = append([]record.Quantity(nil), p.Quantities...)
	for i := range p.Quantities {
		q := &p.Quantities[i]
		q.Value *= 1 + 0.01*rng.NormFloat64()
		if q.Unit == "mm2" || q.Unit == "mm" {
			q.Value *= growth
		}
	}
}
