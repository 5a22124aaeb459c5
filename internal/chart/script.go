package chart

import _ "embed"

// Script makes the charts of a page answer to pointer, touch and keyboard: each in a figure of class chartbox, with an
// element of class readout for the words of the point that is shown.
//
//go:embed chart.js
var Script string
