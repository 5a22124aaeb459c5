// Command sidebyside makes photos of full size from the sample photos and times the measuring of each beside the decoding
// alone, on one processor, the runs interleaved. See scripts/bench_side_by_side.sh.
//
//	go run ./scripts/sidebyside make DIR         12 and 48 megapixels, leaf and root
//	go run ./scripts/sidebyside copies DIR N     N photos of 12 megapixels, each with a content of its own
//	go run ./scripts/sidebyside time N PHOTO...  medians of N runs, ms of processor time
//	go run ./scripts/sidebyside memory PROGRAM PHOTO
//	go run ./scripts/sidebyside run PROGRAM DIR WORKERS
package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"syscall"

	"phototrack/internal/benchphoto"
	"phototrack/internal/collection"
	"phototrack/internal/cv"
	"phototrack/internal/photo"
	"phototrack/internal/pipeline"
	"phototrack/internal/uncert"
)

var views = map[string]string{"leaf": "012_2026-03_L.jpg", "root": "031_2026-05_R.jpg"}

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "sidebyside:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	switch {
	case len(args) == 2 && args[0] == "make":
		return makePhotos(args[1])
	case len(args) == 3 && args[0] == "copies":
		n, err := strconv.Atoi(args[2])
		if err != nil {
			return err
		}
		return makeCopies(args[1], n)
	case len(args) >= 3 && args[0] == "time":
		n, err := strconv.Atoi(args[1])
		if err != nil {
			return err
		}
		return timePhotos(n, args[2:])
	case len(args) == 3 && args[0] == "memory":
		return peakMemory(args[1], args[2])
	case len(args) == 4 && args[0] == "run":
		n, err := strconv.Atoi(args[3])
		if err != nil {
			return err
		}
		return runFolder(args[1], args[2], n)
	case len(args) >= 4 && args[0] == "years":
		plants, err := strconv.Atoi(args[2])
		if err != nil {
			return err
		}
		months, err := strconv.Atoi(args[3])
		if err != nil {
			return err
		}
		return reportOfYears(args[1], plants, months, args[4:])
	}
	return errors.New("say make DIR, copies DIR N, time N PHOTO..., memory PROGRAM PHOTO, run PROGRAM DIR WORKERS, or years PROGRAM PLANTS MONTHS OPTIONS")
}

func upscaled(file string, width int) ([]byte, error) {
	small, err := os.ReadFile(filepath.Join("samples/photos", file))
	if err != nil {
		return nil, err
	}
	return benchphoto.Upscale(small, width)
}

func makePhotos(dir string) error {
	for view, file := range views {
		for name, width := range map[string]int{"12MP": 4000, "48MP": 8000} {
			big, err := upscaled(file, width)
			if err != nil {
				return err
			}
			if err := os.WriteFile(filepath.Join(dir, view+"_"+name+".jpg"), big, 0o644); err != nil {
				return err
			}
		}
	}
	return nil
}

func makeCopies(dir string, n int) error {
	var bases [][]byte
	for _, view := range []string{"leaf", "root"} {
		big, err := upscaled(views[view], 4000)
		if err != nil {
			return err
		}
		bases = append(bases, big)
	}
	size := 0
	for _, b := range bases {
		size = max(size, len(b)+100)
	}
	for i := range n {
		// Files of one length are measured in the order of their names, so that the mix is the same from first to last.
		// One photo in five is of roots, as in a month of a collection.
		base := bases[0]
		if i%5 == 4 {
			base = bases[1]
		}
		data, err := benchphoto.Copy(base, i, size)
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%05d.jpg", i)), data, 0o644); err != nil {
			return err
		}
	}
	return nil
}

func timePhotos(n int, photos []string) error {
	runtime.GOMAXPROCS(1)
	cv.SetThreads(1)
	dir, err := os.MkdirTemp("", "sidebyside")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	c, err := sampleCollection(filepath.Join(dir, "bench"))
	if err != nil {
		return err
	}
	var measurer pipeline.Measurer
	for _, p := range photos {
		data, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		if err := timePhoto(n, filepath.Base(p), data, c, &measurer); err != nil {
			return err
		}
	}
	return nil
}

// timePhoto prints the processor time of decoding one photo by OpenCV (where it can), of reading it as the program does,
// and of the whole way from bytes to numbers and pictures; medians of n, ms.
func timePhoto(n int, name string, data []byte, c *collection.Collection, measurer *pipeline.Measurer) error {
	var whole, decode, read []float64
	job := pipeline.Job{Name: name, Pictures: true}
	var status string
	var reader photo.Reader
	for i := range n + 1 {
		a := cpuMS()
		errCV := cv.DecodeAlone(data)
		b := cpuMS()
		if _, err := reader.Read(data, photo.Limits{}); err != nil {
			return err
		}
		d := cpuMS()
		r := measurer.Measure(data, job, c)
		e := cpuMS()
		status = string(r.Status)
		if i == 0 { // the warm-up
			continue
		}
		if errCV == nil {
			decode = append(decode, b-a)
		}
		read, whole = append(read, d-b), append(whole, e-d)
	}
	w, r := median(whole), median(read)
	if len(decode) == 0 {
		fmt.Printf("phototrack %s %s read %.1f whole %.1f, after reading %.1f\n", name, status, r, w, w-r)
		return nil
	}
	d := median(decode)
	fmt.Printf("phototrack %s %s decode %.1f whole %.1f ratio %.2f, after reading %.1f\n", name, status, d, w, w/d, w-r)
	return nil
}

func sampleCollection(dir string) (*collection.Collection, error) {
	if _, err := collection.Init(dir); err != nil {
		return nil, err
	}
	for _, f := range []string{"plants.csv", "events.csv", "cards.csv"} {
		data, err := os.ReadFile(filepath.Join("samples", f))
		if err != nil {
			return nil, err
		}
		if err := os.WriteFile(filepath.Join(dir, f), data, 0o644); err != nil {
			return nil, err
		}
	}
	return collection.Open(dir)
}

func cpuMS() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e6
}

func median(v []float64) float64 { return uncert.Median(slices.Clone(v)) }
