package collection

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// inside gives the full path of a file that a grower names within the collection. Absolute names, names that climb
// out of the folder, links that lead out of it and anything but ordinary files are refused.
func inside(dir, name string) (string, error) {
	local := filepath.FromSlash(name)
	if !filepath.IsLocal(local) {
		return "", fmt.Errorf("%q is not a name within the collection", clip(name))
	}
	path := filepath.Join(dir, local)
	st, err := os.Stat(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return "", fmt.Errorf("there is no file %q in the collection", clip(name))
	case err != nil:
		return "", err
	case !st.Mode().IsRegular():
		return "", fmt.Errorf("%q is not an ordinary file", clip(name))
	}
	root, err := filepath.EvalSymlinks(dir)
	if err != nil {
		return "", err
	}
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return "", err
	}
	if rel, err := filepath.Rel(root, real); err != nil || !filepath.IsLocal(rel) {
		return "", fmt.Errorf("%q is a link that leads out of the collection", clip(name))
	}
	return real, nil
}

// File gives the full path of an ordinary file within the collection, by the name that a grower wrote.
func (c *Collection) File(name string) (string, error) { return inside(c.Dir, name) }
