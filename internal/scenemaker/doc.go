// Package scenemaker renders photos of a scale card, a plant tag and flat leaves with exact truth, for tests: an
// independent check of calibration and leaf measuring, and thousands of photos of plants that do not change, taken
// anew each time. It is no part of the program.
//
// A Scene holds all that is seen: leaves on planes of their own, the printed card with its error of size, the tag, the
// pinhole camera, two lights, and the sensor. Render makes the JPEG, with EXIF data, and the truth: how much leaf of each
// class shows, projected orthogonally onto the card's plane, and the pose. Outlines stay polygons up to the pixel, of which
// 8 x 8 samples are taken where an edge crosses it, so that areas are exact to far better than 0.1 %.
//
// A Bench draws plants, growers' habits and the shots of a day from stated distributions: those that the measuring's
// budget declares (depth, slope, print, focal length) and those of ordinary photographing (pose, light, exposure,
// noise).
//
// Frames are those of package geom: the card's, in mm, x right, y down, z away from the camera; pixel centres lie at whole
// numbers.
package scenemaker
