package geom_test

import (
	"fmt"

	"phototrack/internal/geom"
)

// A card of 148 x 100 mm that the camera sees at 10 px a mm: the map from the card to the photo, back, and what one pixel covers.
func ExampleFitHomography() {
	card := []geom.MM{{X: 0, Y: 0}, {X: 148, Y: 0}, {X: 148, Y: 100}, {X: 0, Y: 100}}
	photo := []geom.PX{{X: 200, Y: 300}, {X: 1680, Y: 300}, {X: 1680, Y: 1300}, {X: 200, Y: 1300}}
	toPhoto, err := geom.FitHomography(card, photo, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	toCard, err := toPhoto.Inverse()
	if err != nil {
		fmt.Println(err)
		return
	}
	middle := toPhoto.Px(geom.MM{X: 74, Y: 50})
	fmt.Printf("%.0f, %.0f px\n", middle.X, middle.Y)
	fmt.Printf("%.4f mm² a pixel\n", toCard.AreaMM2(middle))
	// Output:
	// 940, 800 px
	// 0.0100 mm² a pixel
}
