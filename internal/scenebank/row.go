package scenebank

import (
	"math"
	"time"

	"phototrack/internal/record"
	"phototrack/internal/scenemaker"
	"phototrack/internal/uncert"
)

// Quantities are what the bank keeps of each photo: those that may stand on a report's first screen.
var Quantities = []string{"leaf_area", "green_share", "yellow_share", "purple_share", "brown_share", "leaf_hue", "leaf_a", "leaf_b"}

// slopeTerm is the name of the budget's term for leaves that slope.
const slopeTerm = "leaf slope"

// Poses are the quantities that tell of the photo itself.
var Poses = []string{"scale", "tilt", "camera_distance"}

// Value is a measured value: its standard uncertainties of what varies from photo to photo and of what is common to a
// plant's photos, and the half-width of its 95 % interval.
// Slope is that part of the common ones that comes from leaves sloping out of the card's plane; only an area has it.
type Value struct{ Value, Varying, Common, U95, Slope float64 }

// Row is one photo of the bank: the truth and what was measured.
type Row struct {
	Place
	Status   record.Status
	Codes    string // of the gates that it met
	Truth    scenemaker.Truth
	Measured map[string]Value
}

// NewRow reduces a measured photo.
func NewRow(at Place, truth scenemaker.Truth, p *record.Photo, codes string) Row {
	row := Row{Place: at, Status: p.Status, Codes: codes, Truth: truth, Measured: map[string]Value{}}
	for _, list := range [][]string{Poses, Quantities} {
		for _, name := range list {
			if q, ok := p.Find(record.QuantityName(name)); ok {
				common, varying := uncert.Split(q.Terms)
				v := Value{Value: q.Value, Varying: uncert.Standard(varying), Common: uncert.Standard(common), U95: q.U95}
				for _, t := range common {
					if t.Name == slopeTerm {
						v.Slope = t.U
					}
				}
				row.Measured[name] = v
			}
		}
	}
	return row
}

// TruthOf is the true value of a quantity, NaN where the scene has none: the colours of a leaf depend on the light on it.
func (r *Row) TruthOf(name string) float64 {
	switch name {
	case "leaf_area":
		return r.Truth.AreaMM2
	case "scale":
		return r.Truth.ScalePxPerMM
	case "tilt":
		return r.Truth.TiltDeg
	case "camera_distance":
		return r.Truth.DistanceMM
	}
	for c := range scenemaker.Classes {
		if name == c.String()+"_share" {
			return r.Truth.Share[c]
		}
	}
	return math.NaN()
}

// Photo is the row as a stored photo of that plant and moment, for package change.
func (r *Row) Photo(plant int, at time.Time, name string) record.Photo {
	p := record.Photo{Name: name, Plant: plant, View: record.Leaf, Status: r.Status, Taken: record.Stamp{Time: at, Source: "exif"}}
	for _, n := range Quantities {
		v, ok := r.Measured[n]
		if !ok {
			continue
		}
		unit := "1"
		switch n {
		case "leaf_area":
			unit = "mm2"
		case "leaf_hue":
			unit = "deg"
		}
		// The terms of either kind are given as one, but for that of slope; U95 is the whole budget's.
		rest := math.Sqrt(math.Max(0, v.Common*v.Common-v.Slope*v.Slope))
		terms := []record.Term{uncert.Normal("varying", v.Varying), uncert.Common(uncert.Normal("common", rest)),
			uncert.Common(uncert.Normal(slopeTerm, v.Slope))}
		p.Quantities = append(p.Quantities, record.Quantity{Name: record.QuantityName(n), Unit: unit, Value: v.Value, U95: v.U95, Terms: terms})
	}
	return p
}
