#include "shim.h"

#include <cmath>

#include <opencv2/core.hpp>
#include <opencv2/core/version.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#if CV_VERSION_MAJOR > 4 || (CV_VERSION_MAJOR == 4 && CV_VERSION_MINOR >= 7)
#define PT_OBJDETECT_ARUCO 1
#include <opencv2/objdetect/aruco_detector.hpp>
#else
#include <opencv2/aruco.hpp>
#endif

#include <cstdio>
#include <cstring>
#include <exception>
#include <vector>

namespace {

int fail(char *err, size_t n, const char *what) {
  if (err && n) snprintf(err, n, "%s", what);
  return 1;
}

cv::Mat decode(const uint8_t *data, size_t n, int flags) {
  cv::Mat raw(1, (int)n, CV_8U, const_cast<uint8_t *>(data));
  return cv::imdecode(raw, flags);
}

// A cell of a marker is read in its middle: of 8 px that it is drawn at, the inner 4. OpenCV's own 4 px with a margin of 0.13, which is none, read the
// whole cell, and with it the neighbours that blur and a corner that is a pixel off bring in: in 57 drawn photos (internal/pipeline, drawn scenes) it found
// 286 of the card's markers, so 303. What is read wrong counts as before, against the same dictionary.
//
// Of a sharpened picture at most one wrong cell of 36 is taken (OpenCV takes three): there are more things in it that look like a marker.
void read_middles(cv::aruco::DetectorParameters &p, bool sharpened) {
  p.perspectiveRemovePixelPerCell = 8;
  p.perspectiveRemoveIgnoredMarginPerCell = 0.3;
  if (sharpened) p.errorCorrectionRate = 0.2;
}

// The picture as light rather than as it is coded, and sharper. Blur mixes light: where white is bright or beyond what the sensor takes, half of it still
// looks like white, and black cells between white ones drown. Light is coded by a power of about 2.2 (IEC 61966-2-1); what is taken off is the mean over
// about half a cell of the smallest marker that can be read.
cv::Mat sharp_in_linear_light(const cv::Mat &g) {
  const double power = 2.2, sigmaPx = 2, amount = 2;
  cv::Mat table(1, 256, CV_8U), light, mean, out;
  for (int i = 0; i < 256; i++) table.at<uint8_t>(i) = cv::saturate_cast<uint8_t>(255 * std::pow(i / 255.0, power));
  cv::LUT(g, table, light);
  cv::GaussianBlur(light, mean, cv::Size(), sigmaPx);
  cv::addWeighted(light, 1 + amount, mean, -amount, 0, out);
  return out;
}

} // namespace

#define PT_CATCH(err, errn)                                          \
  catch (const std::exception &e) { return fail(err, errn, e.what()); } \
  catch (...) { return fail(err, errn, "unknown C++ exception"); }

extern "C" {

int pt_decode(const uint8_t *data, size_t n, int flags, void **mat, int *w, int *h, char *err, size_t errn) {
  try {
    if (n == 0 || n > 0x7fffffff) return fail(err, errn, "no bytes, or too many");
    cv::Mat m = decode(data, n, flags);
    if (m.empty()) return fail(err, errn, "the decoder gave no picture");
    if (m.type() != CV_8UC3) return fail(err, errn, "the decoder gave an unexpected pixel type");
    *w = m.cols;
    *h = m.rows;
    *mat = new cv::Mat(m);
    return 0;
  }
  PT_CATCH(err, errn)
}

void pt_mat_copy_free(void *mat, uint8_t *out) {
  cv::Mat *m = static_cast<cv::Mat *>(mat);
  const size_t row = (size_t)m->cols * m->elemSize();
  for (int y = 0; y < m->rows; y++) memcpy(out + row * y, m->ptr(y), row);
  delete m;
}

void pt_mat_free(void *mat) { delete static_cast<cv::Mat *>(mat); }

int pt_detect_36h11(const uint8_t *gray, int w, int h, int soft, pt_marker *out, int max, int *found, char *err, size_t errn) {
  try {
    if (w < 32 || h < 32) return fail(err, errn, "picture too small");
    cv::Mat g(h, w, CV_8U, const_cast<uint8_t *>(gray));
    if (soft) g = sharp_in_linear_light(g);
    std::vector<std::vector<cv::Point2f>> corners, rejected;
    std::vector<int> ids;
#ifdef PT_OBJDETECT_ARUCO
    cv::aruco::DetectorParameters params;
    read_middles(params, soft);
    cv::aruco::ArucoDetector detector(cv::aruco::getPredefinedDictionary(cv::aruco::DICT_APRILTAG_36h11), params);
    detector.detectMarkers(g, corners, ids, rejected);
#else
    auto params = cv::aruco::DetectorParameters::create();
    read_middles(*params, soft);
    cv::aruco::detectMarkers(g, cv::aruco::getPredefinedDictionary(cv::aruco::DICT_APRILTAG_36h11), corners, ids, params, rejected);
#endif
    int k = 0;
    for (size_t i = 0; i < ids.size() && k < max; i++, k++) {
      out[k].id = ids[i];
      for (int c = 0; c < 4; c++) {
        out[k].corners[2 * c] = corners[i][c].x;
        out[k].corners[2 * c + 1] = corners[i][c].y;
      }
    }
    *found = k;
    return 0;
  }
  PT_CATCH(err, errn)
}

int pt_draw_36h11(int id, int cell_px, uint8_t *out, char *err, size_t errn) {
  try {
    cv::Mat m;
    const int side = 8 * cell_px;
#ifdef PT_OBJDETECT_ARUCO
    cv::aruco::generateImageMarker(cv::aruco::getPredefinedDictionary(cv::aruco::DICT_APRILTAG_36h11), id, side, m, 1);
#else
    cv::aruco::drawMarker(cv::aruco::getPredefinedDictionary(cv::aruco::DICT_APRILTAG_36h11), id, side, m, 1);
#endif
    if (m.cols != side || m.rows != side) return fail(err, errn, "unexpected marker size");
    for (int y = 0; y < side; y++) memcpy(out + (size_t)side * y, m.ptr(y), side);
    return 0;
  }
  PT_CATCH(err, errn)
}

void pt_set_threads(int n) { cv::setNumThreads(n); }

} // extern "C"
