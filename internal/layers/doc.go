// Package layers holds the table of packages, from the top down (layers.tsv), and the test that every import keeps to it. The table
// in the contributor's guide is written from both: `go test ./internal/layers -update`.
package layers
