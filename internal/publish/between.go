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

// remembered gives what is known under a key, or finds it out.
func (m *PairCache) remembered(find func() []record.Change, view record.View, p record.Plant, a, b *record.Photo, basis string) func() []record.Change {
	if m == nil {
		return find
	}
	return func() []record.Change {
		key := fmt.Sprint(view, p.Number, p.Name, basis, a.SHA256, a.SettingsKey, b.SHA256, b.SettingsKey)
		m.mu.Lock()
		known, ok := m.seen[key]
		m.mu.Unlock()
		if ok {
			return known
		}
		found := find()
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
	shelf := newShelf(s.Photos)
	for _, p := range s.Collection.Plants {
		tasks = append(tasks, m.colourTasks(p, shelf.counted(p.Number, record.Leaf, to), from)...)
		list := shelf.counted(p.Number, record.Root, to)
		for i := 1; i < len(list); i++ {
			if list[i].Taken.Day() >= from {
				tasks = append(tasks, m.remembered(func() []record.Change { return rootChanges(ctx, s.Store, p, list[i-1], list[i]) }, record.Root, p, list[i-1], list[i], record.BasisLast))
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
	pair := func(a, b *record.Photo, basis string) {
		tasks = append(tasks, m.remembered(func() []record.Change {
			x, errX := leaf.ParseColours(a.Extra["colours"])
			y, errY := leaf.ParseColours(b.Extra["colours"])
			if errX != nil || errY != nil {
				return nil // measured before colours were kept, or nothing judged
			}
			q := leaf.ColourChange(x, y)
			if math.IsNaN(q.Value) {
				return nil
			}
			k := blank(p, record.Leaf, q.Name, q.Unit, a, b, basis)
			k.Change, k.ToValue, k.U95, k.SmallestDetectable = q.Value, q.Value, q.U95, q.U95
			k.Sentence = fmt.Sprintf("%s (%d): the leaves' colours moved by %s since the session of %s (a mean CIEDE2000 difference; about 1 is just visible side by side).",
				p.Name, p.Number, quantity.Of(q.Name, q.Unit).Value(q.Value, q.U95), words.Date(a.Taken.Time))
			return []record.Change{k}
		}, record.Leaf, p, a, b, basis))
	}
	for i := 1; i < len(list); i++ {
		if list[i].Taken.Day() < from {
			continue
		}
		pair(list[i-1], list[i], record.BasisLast)
		if i > 1 {
			pair(list[0], list[i], record.BasisBaseline)
		}
	}
	return
}

func blank(p record.Plant, view record.View, name record.QuantityName, unit string, a, b *record.Photo, basis string) record.Change {
	return record.Change{Plant: p.Number, Name: p.Name, View: view, Quantity: name, Unit: unit,
		FromDate: a.Taken.Day(), ToDate: b.Taken.Day(), Basis: basis, P: math.NaN(), Q: math.NaN()}
}

// rootChanges registers two unrolled walls. Where that cannot be done (another pot, another side) there is nothing to
// say beyond the totals, which are compared anyway.
func rootChanges(ctx context.Context, st *series.Store, p record.Plant, a, b *record.Photo) []record.Change {
	before, ok := storedWall(ctx, st, a.SHA256)
	if !ok {
		return nil
	}
	after, ok := storedWall(ctx, st, b.SHA256)
	if !ok {
		return nil
	}
	r := root.Register(&before, &after)
	if !r.OK {
		return nil
	}
	one := func(name record.QuantityName, word string, mm, u float64) record.Change {
		k := blank(p, record.Root, name, "mm", a, b, record.BasisLast)
		k.Change, k.ToValue, k.U95, k.SmallestDetectable = mm, mm, 1.96*u, 1.96*u
		k.Sentence = fmt.Sprintf("%s (%d): %s of root %s since %s on the %.0f %% of the wall that both photos show (the pot was turned by %.0f degrees between them).",
			p.Name, p.Number, quantity.Of(name, "mm").Value(mm, 1.96*u), word, words.Date(a.Taken.Time), 100*r.OverlapShare, math.Abs(r.RotationDeg))
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
