// Package regions owns what the network for leaf photos is shown and what its answer means: the classes, the planes made
// of a photo, and the probabilities by place. It runs no network (package segnet does) and reads no files, so that all that
// uses probabilities can be tested with made-up ones, and so that training scenes go through the same code as photos.
package regions
