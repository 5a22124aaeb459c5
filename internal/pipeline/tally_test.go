package pipeline_test

import (
	"math"
	"testing"

	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

// tally counts what comes of photos whose truth is known.
type tally struct {
	what     record.QuantityName
	most     float64 // relative error past which a photo must not be accepted without a flag
	photos   int
	errs     []float64 // relative, of those that have the number
	held     int       // of the intervals, those that hold the truth
	accepted int       // without a flag
	wrong    int       // of these, by more than most
	untrue   int       // of these, with an interval that does not hold the truth
}

// add judges one photo by what is true of it.
func (c *tally) add(t *testing.T, p *record.Photo, is float64) {
	t.Helper()
	c.photos++
	q, ok := p.Find(c.what)
	if !ok {
		t.Logf("%-30s %s %v", p.Name, p.Status, p.Reasons)
		return
	}
	rel := q.Value/is - 1
	c.errs = append(c.errs, math.Abs(rel))
	held := math.Abs(q.Value-is) <= q.U95
	if held {
		c.held++
	}
	if p.Status == record.Accepted {
		c.accepted++
		if !held {
			c.untrue++
		}
		if math.Abs(rel) > c.most {
			c.wrong++
		}
	}
	t.Logf("%-30s %-9s %s %+.1f %%, u95 %.1f %%", p.Name, p.Status, c.what, 100*rel, 100*q.U95/q.Value)
}

func (c *tally) counted() int { return len(c.errs) }

func (c *tally) median() float64 { return uncert.Median(c.errs) }

func (c *tally) mean() (m float64) {
	for _, v := range c.errs {
		m += v / float64(len(c.errs))
	}
	return m
}

// holding is the share of the intervals that hold the truth.
func (c *tally) holding() float64 { return float64(c.held) / float64(c.counted()) }

func (c *tally) log(t *testing.T) {
	t.Helper()
	t.Logf("%d photos, %d with %s; error median %.1f %%, mean %.1f %%; intervals hold %d of %d; %d accepted without a flag, %d of them wrong by more than %.0f %%, %d outside their interval",
		c.photos, c.counted(), c.what, 100*c.median(), 100*c.mean(), c.held, c.counted(), c.accepted, c.wrong, 100*c.most, c.untrue)
}
