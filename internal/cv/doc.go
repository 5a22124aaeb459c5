// Package cv is the one door to OpenCV. Calls that gocv offers are wrapped for their task, with size and type checked
// first, because this gocv turns a C++ exception into the end of the process; calls that it lacks go through a small
// shim of ours, which catches every exception. All pictures are plain Go memory (package raster); no Mat leaves here.
package cv
