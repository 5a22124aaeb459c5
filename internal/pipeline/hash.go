package pipeline

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
)

// hashOf is the content hash that a photo is known by.
func hashOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// fileSize is the length of a file, 0 where it is gone.
func fileSize(path string) int64 {
	st, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return st.Size()
}
