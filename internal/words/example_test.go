package words_test

import (
	"fmt"

	"phototrack/internal/words"
)

func Example() {
	fmt.Println(words.LongDay("2026-04-18"))
	fmt.Println(words.Period("2026-07-01", "2026-07-31"))
	fmt.Println(words.Count(1, "photo", "photos")+",", words.Count(3, "photo", "photos"))
	fmt.Println(words.EventDone("repot"), "/", words.EventNoun("repot"))
	// Output:
	// 18 April 2026
	// July 2026
	// 1 photo, 3 photos
	// repotted / the repot
}
