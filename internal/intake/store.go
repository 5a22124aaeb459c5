package intake

import (
	"errors"

	"phototrack/internal/collection"
	"phototrack/internal/series"
)

// OpenStore opens the collection's store for writing, and makes it in a new collection. Where a store is lost it is
// not taken for new, unless anew says so.
func OpenStore(c *collection.Collection, anew bool) (*series.Store, error) {
	if err := c.CheckStore(); err != nil && !(anew && errors.Is(err, collection.ErrStoreLost)) {
		return nil, err
	}
	st, err := series.Open(c.StorePath())
	if err != nil {
		return nil, err
	}
	if err := c.MarkStore(); err != nil {
		st.Close()
		return nil, err
	}
	return st, nil
}
