package pipeline

import (
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"phototrack/internal/benchphoto"
	"phototrack/internal/collection"
	"phototrack/internal/cv"
	"phototrack/internal/leafnet"
	"phototrack/internal/photo"
	"phototrack/internal/record"
)

// benchSizes are photos of a phone's usual and largest size, 4:3.
var benchSizes = []struct {
	name  string
	width int
}{{"12MP", 4000}, {"48MP", 8000}}

var benchViews = []struct{ name, file string }{{"leaf", "012_2026-03_L.jpg"}, {"root", "031_2026-05_R.jpg"}}

type benchKey struct {
	file  string
	width int
}

var (
	benchLock  sync.Mutex
	benchFiles = map[benchKey][]byte{}
)

func benchPhoto(b *testing.B, file string, width int) []byte {
	benchLock.Lock()
	defer benchLock.Unlock()
	key := benchKey{file, width}
	if benchFiles[key] == nil {
		small, err := os.ReadFile("../../samples/photos/" + file)
		require.NoError(b, err)
		benchFiles[key], err = benchphoto.Upscale(small, width)
		require.NoError(b, err)
	}
	return benchFiles[key]
}

func benchCollection(b *testing.B) *collection.Collection {
	dir := filepath.Join(b.TempDir(), "bench")
	_, err := collection.Init(dir)
	require.NoError(b, err)
	for _, f := range []string{"plants.csv", "events.csv", "cards.csv"} {
		data, err := os.ReadFile("../../samples/" + f)
		require.NoError(b, err)
		require.NoError(b, os.WriteFile(filepath.Join(dir, f), data, 0o600))
	}
	c, err := collection.Open(dir)
	require.NoError(b, err)
	return c
}

// cpuMS is the processor time that this process has taken, in ms.
func cpuMS() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e6
}

func stage(b *testing.B, name string, f func()) {
	b.Run(name, func(b *testing.B) {
		b.ReportAllocs()
		start := cpuMS()
		n := 0
		for b.Loop() {
			f()
			n++
		}
		b.ReportMetric((cpuMS()-start)/float64(n), "cpu-ms/op")
	})
}

// BenchmarkPhoto times a whole photo and its stages beside the decoding of the same file by OpenCV.
func BenchmarkPhoto(b *testing.B) {
	cv.SetThreads(1)
	c := benchCollection(b)
	for _, v := range benchViews {
		for _, s := range benchSizes {
			b.Run(v.name+"/"+s.name, func(b *testing.B) {
				data := benchPhoto(b, v.file, s.width)
				job := Job{Name: v.file, Pictures: true}
				p := Measure(data, job, c)
				require.NotEqual(b, record.Rejected, p.Status, "%v", p.Reasons)
				stage(b, "imdecode", func() {
					if err := cv.DecodeAlone(data); err != nil {
						b.Fatal(err)
					}
				})
				var w Measurer
				stage(b, "whole", func() { w.Measure(data, job, c) })
				stage(b, "read", func() {
					if _, err := photo.Read(data, photo.Limits{}); err != nil {
						b.Fatal(err)
					}
				})
				benchStages(b, data, job, c)
			})
		}
	}
}

// benchStages times what follows the reading, each stage on the results of the one before.
func benchStages(b *testing.B, data []byte, job Job, c *collection.Collection) {
	frame, err := photo.Read(data, photo.Limits{})
	require.NoError(b, err)
	fresh := func() *measuring {
		return &measuring{job: job, c: c, settings: c.Settings, frame: frame, net: new(leafnet.Net),
			p: &record.Photo{SHA256: collection.Hash(data), Taken: frame.Taken, WidthPx: frame.WidthPx, HeightPx: frame.HeightPx}}
	}
	stage(b, "calibrate", func() { fresh().calibrate() })
	m := fresh()
	require.True(b, m.calibrate())
	done := *m.p
	measure := func(pictures bool) {
		p := done
		m.p, m.job.Pictures = &p, pictures
		if m.p.View == record.Root {
			m.root()
		} else {
			m.leaf()
		}
	}
	stage(b, "measure", func() { measure(false) })
	measure(false)
	m.job.Pictures = true
	stage(b, "pictures", func() { m.pictures(nil) })
}
