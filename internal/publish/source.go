package publish

import (
	"context"

	"phototrack/internal/collection"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// Source is what is published: the grower's folder, its store and the photos that were read from it, by which version of the
// program.
type Source struct {
	Collection *collection.Collection
	Store      *series.Store
	Photos     []record.Photo
	Version    string
}

// sourceOf reads the photos of a store.
func sourceOf(ctx context.Context, c *collection.Collection, st *series.Store, version string) (Source, error) {
	photos, err := st.All(ctx)
	return Source{c, st, photos, version}, err
}
