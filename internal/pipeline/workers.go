package pipeline

// photoBytes is the memory to reckon with for a worker on an ordinary photo of 12 megapixels (measured: under 350 MB).
const photoBytes = 350_000_000

// WorkersFor is how many workers suit the machine: one a processor, fewer where memory is short. The results do not
// depend on it.
func WorkersFor(processors int) int { return workersFor(processors, availableBytes()) }

func workersFor(processors int, available int64) int {
	n := max(1, processors)
	if available > 0 {
		n = min(n, max(1, int(available*3/4/photoBytes)))
	}
	return n
}
