package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"sort"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// benchSize is how many plants and months the pages are timed over: 70 of 36, or those of BENCH_SIZE ("200 12").
func benchSize() (plants, months int) {
	plants, months = 70, 36
	_, _ = fmt.Sscan(os.Getenv("BENCH_SIZE"), &plants, &months)
	return
}

// BenchmarkPages gives the median time of a page over a collection of 70 plants x 36 months, made of one measured
// sample photo whose numbers are moved a little. Cold is the first page directly after a file was edited from outside,
// ready the first page a while after.
func BenchmarkPages(b *testing.B) {
	small := serve(b, "012_2026-03_L.jpg")
	s, done, err := small.desk.now(context.Background())
	require.NoError(b, err)
	p, err := s.whole(context.Background(), s.photos[0].SHA256)
	require.NoError(b, err)
	p.Pictures, err = s.st.Pictures(context.Background(), p.SHA256)
	require.NoError(b, err)
	done()
	original, _ := s.c.Original(p)
	dir, last := manyMonths(b, p, original)
	big := serveDir(b, dir, false)
	for name, path := range map[string]string{"month": "/", "plant": "/plant/35", "photo": "/photo/" + last, "original": "/picture/" + last + "/original", "portrait": "/picture/" + last + "/face", "compare": "/compare?plant=35"} {
		b.Run(name, func(b *testing.B) {
			var ms []float64
			for range 20 {
				start := time.Now()
				code, body := big.get(b, path)
				ms = append(ms, float64(time.Since(start).Microseconds())/1000)
				if path != "/compare?plant=35" {
					require.Equal(b, 200, code, body[:min(300, len(body))])
				}
			}
			sort.Float64s(ms)
			b.ReportMetric(ms[10], "ms-median")
			b.ReportMetric(0, "ns/op")
		})
	}
	for name, wait := range map[string]time.Duration{"cold": 0, "ready": 2 * watchEvery} {
		b.Run("month-"+name, func(b *testing.B) {
			var ms []float64
			for i := range 20 {
				require.NoError(b, os.WriteFile(filepath.Join(dir, "watch.csv"), []byte("quantity,of,condition,limit,message,plants\n"+strings.Repeat("\n", i+1)), 0o644))
				time.Sleep(wait)
				start := time.Now()
				code, _ := big.get(b, "/")
				require.Equal(b, 200, code)
				ms = append(ms, float64(time.Since(start).Microseconds())/1000)
			}
			sort.Float64s(ms)
			b.ReportMetric(ms[10], "ms-median")
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			b.ReportMetric(float64(m.Sys)/1e6, "MB")
			b.ReportMetric(0, "ns/op")
		})
	}
}

// manyMonths makes the collection. Pictures are stored for the latest month only.
func manyMonths(b *testing.B, p *record.Photo, original string) (dir, last string) {
	dir = filepath.Join(b.TempDir(), "many")
	_, err := collection.Init(dir)
	require.NoError(b, err)
	plants, months := benchSize()
	lines := "number,name,group,pot_top_mm,pot_bottom_mm,pot_height_mm,from,until,note\n"
	for n := 1; n <= plants; n++ {
		lines += fmt.Sprintf("%d,Plant %d,group %d,,,,,,\n", n, n, n%7)
	}
	require.NoError(b, os.WriteFile(filepath.Join(dir, "plants.csv"), []byte(lines), 0o644))
	c, err := collection.Open(dir)
	require.NoError(b, err)
	st, err := series.Open(c.StorePath())
	require.NoError(b, err)
	pictures := p.Pictures
	for n := 1; n <= plants; n++ {
		for m := range months {
			q := *p
			q.Plant = n
			sum := sha256.Sum256(fmt.Appendf(nil, "%d %d", n, m))
			q.SHA256 = hex.EncodeToString(sum[:])
			q.Name = fmt.Sprintf("%03d_%02d.jpg", n, m)
			q.Taken.Time = time.Date(2023, time.Month(8+36-months+m), 5, 10, 0, 0, 0, time.UTC)
			q.Quantities = append([]record.Quantity{}, p.Quantities...)
			for i := range q.Quantities {
				q.Quantities[i].Value *= 1 + 0.01*float64((n*m)%9)
			}
			q.Pictures = nil
			if m == months-1 {
				q.Pictures = pictures
			}
			if n == 35 && m == months-1 {
				last = q.SHA256
				q.Path = filepath.Join(dir, "inbox", q.Name)
				copyFile(b, original, q.Path)
			}
			require.NoError(b, st.Put(context.Background(), &q))
		}
	}
	require.NoError(b, st.Close())
	return dir, last
}
