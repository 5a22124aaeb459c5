// Package trainscene draws photos of potted plants among what surrounds plants in growers' homes, gardens and
// greenhouses, with the class of every pixel: what the network that tells leaf from everything else is trained on. It is no
// part of the program.
//
// Breadth is its aim, not beauty: leaf shapes, growth forms, colours and patterns, blooms, pots, media, stakes, labels,
// neighbours, hedges and lawns, walls, boards and cloths, light from dusk to hard sun, lenses and cameras are all drawn at
// random. Nothing is modelled on a particular photo.
//
// The way of a sample: Compose draws a Scene (meshes in layers, lights, a camera) -> Shoot makes the picture and the
// classes -> Sample reduces them to the planes that the network sees, by the same code as the program's (package regions).
//
// Lengths are mm, x to the right, y up, z towards the viewer; colours are linear sRGB.
package trainscene
