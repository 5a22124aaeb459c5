package words

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"phototrack/internal/record"
)

func TestDates(t *testing.T) {
	assert.Equal(t, "18 April 2026", LongDay("2026-04-18"))
	assert.Equal(t, "18 Apr 2026", ShortDay("2026-04-18"))
	assert.Equal(t, "7\u00a0Mar\u00a02026", UnbrokenDay("2026-03-07"))
	assert.Equal(t, "April 2026", Month("2026-04"))
	at := time.Date(2026, 4, 18, 9, 5, 0, 0, time.UTC)
	assert.Equal(t, []string{"18 April 2026", "18 April 2026, 09:05", "Apr"}, []string{Date(at), Moment(at), ShortMonth(at)})
	for _, s := range []string{"", "2026-04-31", "soon"} {
		assert.Equal(t, s, LongDay(s))
		assert.Equal(t, s, ShortDay(s))
		assert.Equal(t, s, UnbrokenDay(s))
		assert.Equal(t, s, Month(s))
	}
}

func TestPeriods(t *testing.T) {
	for _, c := range []struct{ from, to, want string }{
		{"2026-02-01", "2026-02-28", "February 2026"},
		{"2028-02-01", "2028-02-29", "February 2028"}, // a leap year
		{"2026-01-01", "2026-12-31", "2026"},
		{"2026-02-02", "2026-03-01", "2 February 2026 to 1 March 2026"},
		{"", "2026-03-01", "until 1 March 2026"},
		{"2026-02-02", "", "from 2 February 2026"},
		{"", "", "Report"},
	} {
		assert.Equal(t, c.want, Period(c.from, c.to))
	}
}

func TestNumbersOfThings(t *testing.T) {
	assert.Equal(t, []string{"0 photos", "1 photo", "2 photos"}, []string{Count(0, "photo", "photos"), Count(1, "photo", "photos"), Count(2, "photo", "photos")})
	assert.Equal(t, []string{"", "a", "a and b", "a, b and c"}, []string{List(nil), List([]string{"a"}), List([]string{"a", "b"}), List([]string{"a", "b", "c"})})
}

func TestFirstLetters(t *testing.T) {
	assert.Equal(t, []string{"", "Leaf area", "Élodée", "3 photos"}, []string{Upper(""), Upper("leaf area"), Upper("élodée"), Upper("3 photos")})
	assert.Equal(t, []string{"leaves", "œillet"}, []string{Lower("Leaves"), Lower("Œillet")})
}

func TestEventsReadInThreeForms(t *testing.T) {
	assert.Equal(t, []string{"repotted", "the repot", "repotting"}, []string{EventDone("repot"), EventNoun("repot"), EventDoing("repot")})
	assert.Equal(t, []string{"stood outside", "the event (stood outside)", "event"}, []string{EventDone("stood outside"), EventNoun("stood outside"), EventDoing("stood outside")})
}

func TestViewsAndVerdicts(t *testing.T) {
	assert.Equal(t, []string{"Leaves", "Roots", "No card"}, []string{View(record.Leaf), View(record.Root), View("")})
	marks := map[string]bool{}
	for _, v := range []record.Verdict{record.Rose, record.Fell, record.NoChange, record.TooFew} {
		mark, class := Arrow(v)
		marks[mark] = true
		assert.NotEmpty(t, class)
	}
	assert.Len(t, marks, 4)
}
