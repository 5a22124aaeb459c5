package publish

import (
	"context"
	"fmt"
	"math"
	"sync"

	"phototrack/internal/codec"
	"phototrack/internal/measure/leaf"
	"phototrack/internal/measure/root"
	"phototrack/internal/pipeline"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/series"
	"phototrack/internal/words"
)

// between computes what is measured on two sessions together: how far the leaves' colours moved, and which roots are
// new or gone on the stretch of a pot's wall that both show. Sessions are compared with the one before them and, for
// colours, with the plant's first; a session's first photo that counts stands for it.
func (s Source) between(ctx context.Context, from, to string) []record.Change {
	return (*PairCache)(nil).Between(ctx, s, from, to)
}

// PairCache remembers what was measured on pairs of photos, so that one who asks again and again, as the desk does, has it
// measured once. A nil PairCache remembers nothing.
type PairCache struct {
	mu   sync.Mutex
	seen map[string][]record.Change
}

// mostRemembered bounds what a PairCache holds: a garden of 200 plants over ten years.
const mostRemembered = 50_000

// pair is two photos of a plant's side that are measured together: the one that stands for the basis, and a later one.
type pair struct {
	plant record.Plant
	view  record.View
	a, b  *record.Photo
	basis string
}

// key tells apart pairs whose changes may differ.
func (p *pair) key() string {
	return fmt.Sprint(p.view, p.plant.Number, p.plant.Name, p.basis, p.a.SHA256, p.a.SettingsKey, p.b.SHA256, p.b.SettingsKey)
}

// change is a change of a quantity between the two, without its numbers.
func (p *pair) change(name record.QuantityName, unit string) record.Change {
	return record.Change{Plant: p.plant.Number, Name: p.plant.Name, View: p.view, Quantity: name, Unit: unit,
		FromDate: p.a.Taken.Day(), ToDate: p.b.Taken.Day(), Basis: p.basis, P: math.NaN(), Q: math.NaN()}
}

// remembered gives what is known of a pair, or finds it out.
func (m *PairCache) remembered(p pair, find func(pair) []record.Change) func() []record.Change {
	return func() []record.Change {
		if m == nil {
			return find(p)
		}
		key := p.key()
		m.mu.Lock()
		known, ok := m.seen[key]
		m.mu.Unlock()
		if ok {
			return known
		}
		found := find(p)
		m.mu.Lock()
		defer m.mu.Unlock()
		if m.seen == nil || len(m.seen) >= mostRemembered {
			m.seen = map[string][]record.Change{}
		}
		m.seen[key] = found
		return found
	}
}

// Between computes what is measured on two sessions together, in a period.
func (m *PairCache) Between(ctx context.Context, s Source, from, to string) []record.Change {
	var tasks []func() []record.Change
	roots := func(p pair) []record.Change { return rootChanges(ctx, s.Store, p) }
	shelf := newShelf(s.Photos)
	for _, p := range s.Collection.Plants {
		tasks = append(tasks, m.colourTasks(p, shelf.counted(p.Number, record.Leaf, to), from)...)
		list := shelf.counted(p.Number, record.Root, to)
		for i := 1; i < len(list); i++ {
			if list[i].Taken.Day() >= from {
				pair := pair{plant: p, view: record.Root, a: list[i-1], b: list[i], basis: record.BasisLast}
				tasks = append(tasks, m.remembered(pair, roots))
			}
		}
	}
	out := make([][]record.Change, len(tasks))
	inParallel(ctx, len(tasks), func(i int) { out[i] = tasks[i]() })
	var all []record.Change
	for _, list := range out {
		all = append(all, list...)
	}
	return all
}

func (m *PairCache) colourTasks(p record.Plant, list []*record.Photo, from string) (tasks []func() []record.Change) {
	add := func(a, b *record.Photo, basis string) {
		tasks = append(tasks, m.remembered(pair{plant: p, view: record.Leaf, a: a, b: b, basis: basis}, colourChanges))
	}
	for i := 1; i < len(list); i++ {
		if list[i].Taken.Day() < from {
			continue
		}
		add(list[i-1], list[i], record.BasisLast)
		if i > 1 {
			add(list[0], list[i], record.BasisBaseline)
		}
	}
	return
}

// colourChanges is how far the leaves' colours moved, nothing where it was measured before colours were kept, or nothing was judged.
func colourChanges(p pair) []record.Change {
	x, errX := leaf.ParseColours(p.a.Extra["colours"])
	y, errY := leaf.ParseColours(p.b.Extra["colours"])
	if errX != nil || errY != nil {
		return nil
	}
	q := leaf.ColourChange(x, y)
	if math.IsNaN(q.Value) {
		return nil
	}
	k := p.change(q.Name, q.Unit)
	k.Change, k.ToValue, k.U95, k.SmallestDetectable = q.Value, q.Value, q.U95, q.U95
	k.Sentence = fmt.Sprintf("%s (%d): the leaves' colours moved by %s since the session of %s (a mean CIEDE2000 difference; about 1 is just visible side by side).",
		p.plant.Name, p.plant.Number, quantity.Of(q.Name, q.Unit).Value(q.Value, q.U95), words.Date(p.a.Taken.Time))
	return []record.Change{k}
}

// rootChanges registers two unrolled walls. Where that cannot be done (another pot, another side) there is nothing to
// say beyond the totals, which are compared anyway.
func rootChanges(ctx context.Context, st *series.Store, p pair) []record.Change {
	before, ok := storedWall(ctx, st, p.a.SHA256)
	if !ok {
		return nil
	}
	after, ok := storedWall(ctx, st, p.b.SHA256)
	if !ok {
		return nil
	}
	r := root.Register(&before, &after)
	if !r.OK {
		return nil
	}
	one := func(name record.QuantityName, word string, mm, u float64) record.Change {
		k := p.change(name, "mm")
		k.Change, k.ToValue, k.U95, k.SmallestDetectable = mm, mm, 1.96*u, 1.96*u
		k.Sentence = fmt.Sprintf("%s (%d): %s of root %s since %s on the %.0f %% of the wall that both photos show (the pot was turned by %.0f degrees between them).",
			p.plant.Name, p.plant.Number, quantity.Of(name, "mm").Value(mm, 1.96*u), word, words.Date(p.a.Taken.Time), 100*r.OverlapShare, math.Abs(r.RotationDeg))
		return k
	}
	return []record.Change{one(record.RootNew, "is new", r.NewMM, r.NewU), one(record.RootGone, "is no longer seen", r.GoneMM, r.GoneU)}
}

func storedWall(ctx context.Context, st *series.Store, sha string) (root.Wall, bool) {
	p, ok, err := st.Get(ctx, sha)
	if err != nil || !ok || p.Extra["wall"] == "" {
		return root.Wall{}, false
	}
	data, ok, err := st.Picture(ctx, sha, pipeline.PictureWall)
	if err != nil || !ok {
		return root.Wall{}, false
	}
	img, err := codec.ReadJPEGBGR(data)
	if err != nil {
		return root.Wall{}, false
	}
	w, err := root.ParseWall(p.Extra["wall"], img, p.WallRoots)
	return w, err == nil
}
