package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"

	"phototrack/internal/collection"
	"phototrack/internal/pipeline"
	"phototrack/internal/series"
)

// peakMemory measures one photo in a worker of the built program and prints the most memory that it held.
func peakMemory(program, photo string) error {
	p := pipeline.Pool{Command: []string{program, "worker"}, Workers: 1, Limit: 10 * time.Minute}
	var status string
	jobs := []pipeline.Job{{Path: photo, Name: filepath.Base(photo), Pictures: true}}
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
// prints the photos a second, and how the first third of the photos compares with the last one.
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
	var times []time.Duration
	var memory []int64
	start := time.Now()
	o := pipeline.RunOptions{Dir: folder, Pool: pipeline.Pool{Command: []string{program, "worker", "--collection", c.Dir}, Workers: workers, Limit: time.Minute}}
	o.Progress.Done = func(pipeline.Outcome) {
		times, memory = append(times, time.Since(start)), append(memory, residentMB())
	}
	res, err := pipeline.Run(context.Background(), c, st, o)
	if err != nil {
		return err
	}
	took := time.Since(start)
	n := len(times)
	fmt.Printf("%d photos, %d workers: %.1f s, %.2f photos a second", n, workers, took.Seconds(), float64(len(res.Measured))/took.Seconds())
	if n >= 30 {
		third := n / 3
		first, last := times[third-1]-times[0], times[n-1]-times[n-third]
		fmt.Printf("; first third %.1f s, last third %.1f s; supervisor %d MB after a third, %d MB at the end", first.Seconds(), last.Seconds(), memory[third], memory[n-1])
	}
	fmt.Println()
	return again(c, st, o)
}

// again runs once more with nothing new.
func again(c *collection.Collection, st *series.Store, o pipeline.RunOptions) error {
	start := time.Now()
	res, err := pipeline.Run(context.Background(), c, st, o)
	if err != nil {
		return err
	}
	fmt.Printf("  once more: %d measured, %d known, %.2f s\n", len(res.Measured), res.Known, time.Since(start).Seconds())
	return nil
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
