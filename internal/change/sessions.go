package change

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"sort"

	"phototrack/internal/gate"
	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

type shotKey struct {
	plant int
	view  record.View
}

type key struct {
	shotKey
	quantity record.QuantityName
	part     string // "" for the whole plant
}

// shots are the photos of one plant and view, by day.
type shots struct {
	shotKey
	days  []string // with any photo, in order
	by    map[string][]*record.Photo
	faces map[string]string // the face of a root session, "" where not known
}

// point is one session of one series.
type point struct {
	record.Session
	day     float64 // day number
	y       float64 // value; of an angle without the jump at 360
	varying float64 // budget's varying part, standard uncertainty
	within  float64 // variance among replicates, its degrees of freedom are Photos - 1
	face    string
	areas   string // kinds of areas drawn by hand that changed what was counted
	camera  string
	common  []record.Term
	terms   []record.Term // varying
}

// series is one quantity of one plant, its sessions in order.
type series struct {
	key
	kind   kind
	unit   string
	points []point
	scale  float64 // noise of this plant over the predicted one
	df     float64 // degrees of freedom of the Student's t of its noise
	k95    float64 // half-width of a 95 % interval in standard uncertainties
}

// buildSeries reduces photos to sessions.
func (a *analysis) buildSeries() {
	a.sortShots()
	table := kinds(a.in.Settings)
	keys := a.shotKeys()
	of := make([]map[key]*series, len(keys))
	each(len(keys), func(n int) {
		k := keys[n]
		of[n] = map[key]*series{}
		s := a.shots[k]
		s.settle()
		main := s.mainFace()
		for _, day := range s.days {
			counted := replicates(s.by[day], main)
			if len(counted) == 0 {
				continue
			}
			s.faces[day] = counted[0].Extra["face"]
			a.addSession(of[n], table, k, day, counted)
		}
	})
	for _, list := range of {
		maps.Copy(a.at, list)
	}
	a.addCounts()
	a.series = slices.SortedFunc(maps.Values(a.at), func(x, y *series) int {
		return cmp.Or(cmp.Compare(x.plant, y.plant), cmp.Compare(x.view, y.view), cmp.Compare(x.quantity, y.quantity), cmp.Compare(x.part, y.part))
	})
	for _, s := range a.series {
		s.unwrap()
	}
}

// sortShots puts the photos that count in time under their plant, view and day.
func (a *analysis) sortShots() {
	a.shots = map[shotKey]*shots{}
	for i := range a.in.Photos {
		p := &a.in.Photos[i]
		day := p.Taken.Day()
		if p.Plant == 0 || p.View == "" || day == "" || gate.DateInDoubt(p) || (a.in.To != "" && day > a.in.To) {
			continue
		}
		k := shotKey{p.Plant, p.View}
		s := a.shots[k]
		if s == nil {
			s = &shots{shotKey: k, by: map[string][]*record.Photo{}, faces: map[string]string{}}
			a.shots[k] = s
		}
		if s.by[day] == nil {
			s.days = append(s.days, day)
		}
		s.by[day] = append(s.by[day], p)
	}
}

// settle orders days and photos, so that the order of the files does not matter.
func (s *shots) settle() {
	sort.Strings(s.days)
	for _, photos := range s.by {
		slices.SortStableFunc(photos, func(x, y *record.Photo) int {
			return cmp.Or(x.Taken.Time.Compare(y.Taken.Time), cmp.Compare(x.Name, y.Name))
		})
	}
}

func (a *analysis) shotKeys() []shotKey {
	keys := make([]shotKey, 0, len(a.shots))
	for k := range a.shots {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool {
		if keys[i].plant != keys[j].plant {
			return keys[i].plant < keys[j].plant
		}
		return keys[i].view < keys[j].view
	})
	return keys
}

func counts(p *record.Photo) bool { return gate.Counts(p.Status, p.Reasons) && len(p.Quantities) > 0 }

// mainFace is the face of the pot that most photos of the series show, the first in the alphabet among equals: the
// face that the series follows.
func (s *shots) mainFace() string {
	n := map[string]int{}
	best := ""
	for _, photos := range s.by {
		for _, p := range photos {
			if f := p.Extra["face"]; f != "" && counts(p) {
				n[f]++
			}
		}
	}
	for f, c := range n {
		if c > n[best] || (c == n[best] && (best == "" || f < best)) {
			best = f
		}
	}
	return best
}

// replicates are the photos of a day that count and show one and the same face: the series' own if there is one.
func replicates(photos []*record.Photo, main string) []*record.Photo {
	var all, own []*record.Photo
	for _, p := range photos {
		if !counts(p) {
			continue
		}
		all = append(all, p)
		if p.Extra["face"] == main {
			own = append(own, p)
		}
	}
	if len(own) > 0 {
		return own
	}
	for _, p := range all { // another face: the photos of the first one found
		if p.Extra["face"] == all[0].Extra["face"] {
			own = append(own, p)
		}
	}
	return own
}

// addSession appends the day's values to the series of each quantity of a plant's view.
func (a *analysis) addSession(of map[key]*series, table map[record.QuantityName]kind, k shotKey, day string, photos []*record.Photo) {
	taken := shoot{shotKey: k, date: day, day: dayNumber(day), photos: photos}
	for _, first := range photos {
		for _, q := range first.Quantities {
			kd, ok := table[q.Name]
			id := key{k, q.Name, q.Part}
			s := of[id]
			if !ok || (s != nil && s.points[len(s.points)-1].Date == day) || math.IsNaN(q.Value) {
				continue // not compared, or this day's value is there already
			}
			if s == nil {
				s = &series{key: id, kind: kd, unit: q.Unit, scale: 1, df: math.Inf(1), k95: tQuantile(math.Inf(1)), points: make([]point, 0, len(a.shots[k].days))}
				of[id] = s
			}
			s.points = append(s.points, taken.session(kd, q))
		}
	}
}

// shoot is what was photographed of one side of a plant on one day: the photos that count.
type shoot struct {
	shotKey
	date   string
	day    float64 // its number
	photos []*record.Photo
}

// session is the mean of the photos' values of a quantity. The varying terms of the budget are not divided by the number of
// photos: replicates share how card, plant and camera were set up that day, and so most of these terms.
func (s *shoot) session(kd kind, q record.Quantity) point {
	first := s.photos[0]
	p := point{Session: record.Session{Plant: s.plant, View: s.view, Date: s.date, Quantity: q.Name, Part: q.Part, Unit: q.Unit},
		day: s.day, face: first.Extra["face"], areas: areasOf(s.photos), camera: first.Camera}
	var values []float64
	widest := -1.0
	for _, photo := range s.photos {
		v, ok := photo.FindPart(q.Name, q.Part)
		if !ok || math.IsNaN(v.Value) {
			continue
		}
		values = append(values, v.Value)
		p.Names = append(p.Names, photo.Name)
		if v.U95 > widest { // the least sure photo's budget stands for the session
			widest = v.U95
			p.common, p.terms = uncert.Split(v.Terms)
			if len(v.Terms) == 0 && v.U95 > 0 {
				p.terms = []record.Term{uncert.Normal("stated", v.U95/1.96)}
			}
		}
	}
	p.Photos = len(values)
	mean := 0.0
	for _, v := range values {
		d := kd.difference(values[0], v)
		mean += d / float64(len(values))
	}
	for _, v := range values {
		d := kd.difference(values[0], v) - mean
		p.within += d * d / math.Max(1, float64(len(values)-1))
	}
	p.Value = values[0] + mean
	if kd.circular {
		p.Value = math.Mod(p.Value+360, 360)
	}
	p.y = p.Value
	p.varying = math.Hypot(uncert.Standard(p.terms), turnedShare*slopeOf(p.common))
	p.UCommon = uncert.Standard(p.common)
	return p
}

// slopeTerm is the budget's term for leaves that slope out of the card's plane and are seen off axis.
const slopeTerm = "leaf slope"

// turnedShare of that term does not cancel between days. The term is for leaves anywhere within 10 degrees of the card's
// plane (rectangular, so 5.8 degrees), which a plant keeps; but a pot put back by hand, and a card propped up anew, stand
// turned against each other by some 2 degrees (standard deviation, plain judgement; less is seen to be less by the
// collection's own data). Rendered plants turned by so much bear it out: package scenebank.
const turnedShare = 2 / 5.8

func slopeOf(common []record.Term) float64 {
	for _, t := range common {
		if t.Name == slopeTerm {
			return t.U
		}
	}
	return 0
}

// unwrap takes the jump at 360 degrees out of a series of angles.
func (s *series) unwrap() {
	if !s.kind.circular {
		return
	}
	for i := 1; i < len(s.points); i++ {
		s.points[i].y = s.points[i-1].y + s.kind.difference(s.points[i-1].y, s.points[i].Value)
	}
}

// sessions lists all, with what noise they were found to have.
func (a *analysis) sessions() []record.Session {
	var out []record.Session
	for _, s := range a.series {
		for i := range s.points {
			out = append(out, s.points[i].Session)
		}
	}
	return out
}

// areasOf are the kinds of areas that were drawn on the photos of a session and changed what was counted on them.
func areasOf(photos []*record.Photo) string {
	var out string
	for _, p := range photos {
		if a := p.Extra[record.ExtraAreas]; a > out {
			out = a
		}
	}
	return out
}
