// Package series is the collection's memory: an SQLite file that knows every photo by its content hash, what was
// measured on it, and the pictures shown of it.
//
// Open gives the one writer (the collection's lock keeps a second one away), OpenReader any number of readers, which a
// writer does not hold up. Put stores one photo in one transaction: after a power cut or kill -9 a photo is there whole
// or not at all, and what Put has acknowledged stays. Nothing is deleted: a newer measurement of the same photo moves
// the older one to the history.
//
// A schema of an earlier version is upgraded by Open, after a copy has been put beside it; one of a later version is
// refused.
package series
