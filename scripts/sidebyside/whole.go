package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"

	"phototrack/internal/collection"
	"phototrack/internal/intake"
	"phototrack/internal/pipeline"
	"phototrack/internal/series"
)

// peakMemory measures a photo five times over in a worker of the built program and prints the most memory that it held.
func peakMemory(program, photo string) error {
	p := pipeline.Pool{Command: []string{program, "worker"}, Workers: 1, Limit: 10 * time.Minute}
	var status string
	jobs := slices.Repeat([]pipeline.Job{{Path: photo, Name: filepath.Base(photo), Pictures: true}}, 5)
	err := p.Measure(context.Background(), jobs, func(o pipeline.Outcome) error {
		status = string(o.Photo.Status)
		return o.Err
	})
	if err != nil {
		return err
	}
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_CHILDREN, &u); err != nil {
		return err
	}
	fmt.Printf("%s (%s): a worker's peak is %d MB\n", filepath.Base(photo), status, u.Maxrss>>10)
	return nil
}

// runFolder measures a folder into a new collection by workers of the built program, as `phototrack run` does, and
// prints the photos a second, and how the first hundred of the photos (third, where they are few) compare with the last.
func runFolder(program, folder string, workers int) error {
	dir, err := os.MkdirTemp("", "sidebyside")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	c, err := sampleCollection(filepath.Join(dir, "bench"))
	if err != nil {
		return err
	}
	st, err := series.Open(c.StorePath())
	if err != nil {
		return err
	}
	defer st.Close()
	var seen []moment
	start := time.Now()
	o := intake.Options{Dir: folder, Pool: pipeline.Pool{Command: []string{program, "worker", "--collection", c.Dir}, Workers: workers, Limit: time.Minute}}
	o.Progress.Done = func(pipeline.Outcome) {
		seen = append(seen, moment{time.Since(start), childrenCPU(), residentMB()})
	}
	res, err := intake.Run(context.Background(), c, st, o)
	if err != nil {
		return err
	}
	took := time.Since(start)
	n := len(seen)
	fmt.Printf("%d photos, %d workers: %.1f s, %.2f photos a second", n, workers, took.Seconds(), float64(len(res.Measured))/took.Seconds())
	if n >= 30 {
		some := min(100, n/3)
		a, b, y, z := seen[0], seen[some-1], seen[n-some], seen[n-1]
		fmt.Printf("; first %d %.1f s (workers' processor time %.1f s), last %d %.1f s (%.1f s); supervisor %d MB after them, %d MB at the end",
			some, (b.at - a.at).Seconds(), (b.cpu - a.cpu).Seconds(), some, (z.at - y.at).Seconds(), (z.cpu - y.cpu).Seconds(), b.memory, z.memory)
	}
	fmt.Println()
	return again(c, st, o)
}

// again runs once more with nothing new.
func again(c *collection.Collection, st *series.Store, o intake.Options) error {
	start := time.Now()
	res, err := intake.Run(context.Background(), c, st, o)
	if err != nil {
		return err
	}
	fmt.Printf("  once more: %d measured, %d known, %.2f s\n", len(res.Measured), res.Known, time.Since(start).Seconds())
	return nil
}

// moment is the end of a photo: time since the start, processor time of the workers up to then, and the supervisor's memory.
type moment struct {
	at, cpu time.Duration
	memory  int64
}

// childrenCPU is the processor time that the processes started by this one have taken, running or ended (Linux: proc(5)).
func childrenCPU() (sum time.Duration) {
	const tick = time.Second / 100 // the unit of /proc on all usual systems
	files, _ := filepath.Glob("/proc/[0-9]*/stat")
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			continue // gone in the meantime
		}
		_, rest, _ := strings.Cut(string(data), ") ") // the name before may hold spaces
		v := strings.Fields(rest)
		if len(v) < 15 {
			continue
		}
		own := 11 // user and system time
		switch self := strconv.Itoa(os.Getpid()); {
		case f == "/proc/"+self+"/stat":
			own = 13 // those of its children that have ended
		case v[1] != self:
			continue
		}
		user, _ := strconv.ParseInt(v[own], 10, 64)
		system, _ := strconv.ParseInt(v[own+1], 10, 64)
		sum += time.Duration(user+system) * tick
	}
	return sum
}

func residentMB() int64 {
	data, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	_, rest, _ := strings.Cut(string(data), "VmRSS:")
	f := strings.Fields(rest)
	if len(f) == 0 {
		return 0
	}
	kB, _ := strconv.ParseInt(f[0], 10, 64)
	return kB >> 10
}
