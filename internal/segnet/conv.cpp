// Convolutions for OpenCV's dnn module. Its own (4.6) are fast where many channels meet few places; at few channels and many places
// (the finest steps of a network for pictures), with filters of 5 x 5 and on narrow pictures they take three to ten times as long as
// the arithmetic. What is computed is the same but for rounding; shapes that are not known here are left to OpenCV.
#include "conv.h"

#include "kernels.h"

#include <opencv2/core.hpp>
#include <opencv2/dnn.hpp>
#include <opencv2/dnn/all_layers.hpp>
#include <opencv2/dnn/layer.details.hpp>

#include <algorithm>
#include <cstring>
#include <limits>
#include <vector>

namespace {

bool anyProcessor = false; // use the code for any processor on every one: for tests

const Kernels &kernels() {
#if defined(__x86_64__)
  if (!anyProcessor && __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma")) return avx2Kernels;
#endif
  return plainKernels;
}

int roundUp(int n, int to) { return (n + to - 1) / to * to; }

// Shape is what a convolution's parameters say.
struct Shape {
  int outputs, inputs, groups, size, step, pad;
  bool known; // to this file

  explicit Shape(const cv::dnn::LayerParams &p) : known(false) {
    if (p.blobs.empty() || p.blobs[0].dims != 4 || p.blobs[0].type() != CV_32F || p.blobs.size() > 2) return;
    const cv::Mat &w = p.blobs[0];
    groups = p.get<int>("group", 1);
    outputs = w.size[0];
    inputs = w.size[1] * groups;
    size = w.size[2];
    if (w.size[3] != size || p.has("pad_mode") || !all(p, "dilation", 1, nullptr) || !all(p, "stride", 1, &step) || !all(p, "pad", 0, &pad)) return;
    const bool own = groups == outputs && groups == inputs && (size == 3 || size == 5);
    const bool mixed = groups == 1 && (size == 1 || size == 3);
    known = (own || mixed) && (step == 1 || step == 2) && pad <= size / 2 && (size > 1 || step == 1);
  }

  // all says that the entries of a parameter are one number, which is the usual one where there is no such parameter.
  static bool all(const cv::dnn::LayerParams &p, const char *name, int usual, int *value) {
    int v = usual;
    if (p.has(name)) {
      const cv::dnn::DictValue &d = p.get(name);
      v = d.get<int>(0);
      for (int i = 1; i < d.size(); i++)
        if (d.get<int>(i) != v) return false;
    }
    if (value) *value = v;
    return value || v == usual;
  }

  int out(int n) const { return (n + 2 * pad - size) / step + 1; }
};

class Conv : public cv::dnn::Layer {
public:
  Conv(const cv::dnn::LayerParams &p, const Shape &s) : shape(s), run(kernels()) {
    name = p.name;
    type = p.type;
    const float *w = p.blobs[0].ptr<float>();
    const int k = s.inputs / s.groups * s.size * s.size;
    bias.assign(roundUp(s.outputs, 4), 0);
    if (p.blobs.size() > 1) memcpy(bias.data(), p.blobs[1].ptr<float>(), s.outputs * sizeof(float));
    if (s.groups > 1) {
      weights.assign(w, w + (size_t)s.outputs * k);
    } else { // those of four outputs side by side
      weights.assign((size_t)roundUp(s.outputs, 4) * k, 0);
      for (int o = 0; o < s.outputs; o++)
        for (int i = 0; i < k; i++) weights[(size_t)(o / 4 * k + i) * 4 + o % 4] = w[(size_t)o * k + i];
    }
    unbound();
  }

  bool getMemoryShapes(const std::vector<cv::dnn::MatShape> &in, const int, std::vector<cv::dnn::MatShape> &out, std::vector<cv::dnn::MatShape> &) const CV_OVERRIDE {
    CV_Assert(in.size() == 1 && in[0].size() == 4 && in[0][1] == shape.inputs && shape.out(in[0][2]) > 0 && shape.out(in[0][3]) > 0);
    out.assign(1, cv::dnn::MatShape{in[0][0], shape.outputs, shape.out(in[0][2]), shape.out(in[0][3])});
    return false;
  }

  // setActivation takes over the bounds of a layer that follows and only bounds.
  bool setActivation(const cv::Ptr<cv::dnn::ActivationLayer> &layer) CV_OVERRIDE {
    unbound();
    cv::Ptr<cv::dnn::ReLU6Layer> r = layer.dynamicCast<cv::dnn::ReLU6Layer>();
    if (r.empty()) return false;
    low = r->minValue;
    high = r->maxValue;
    return true;
  }

  void forward(cv::InputArrayOfArrays ins, cv::OutputArrayOfArrays outs, cv::OutputArrayOfArrays) CV_OVERRIDE {
    std::vector<cv::Mat> in, out;
    ins.getMatVector(in);
    outs.getMatVector(out);
    CV_Assert(in.size() == 1 && out.size() == 1 && in[0].type() == CV_32F && in[0].isContinuous() && out[0].isContinuous());
    for (int n = 0; n < in[0].size[0]; n++) {
      const float *x = in[0].ptr<float>(n);
      float *y = out[0].ptr<float>(n);
      const int h = in[0].size[2], w = in[0].size[3];
      if (shape.groups > 1) filter(x, h, w, y);
      else if (shape.size == 1) mixPlaces(x, h * w, y);
      else mixRows(x, h, w, y);
    }
  }

private:
  const Shape shape;
  const Kernels &run;
  std::vector<float> weights, bias;
  std::vector<float> buffer, spare; // kept from one picture to the next
  std::vector<const float *> rows;
  float low, high;

  void unbound() {
    low = -std::numeric_limits<float>::infinity();
    high = -low;
  }

  // room gives n values that need not be anything.
  static float *room(std::vector<float> &v, size_t n) {
    if (v.size() < n) v.resize(n);
    return v.data();
  }

  // mixAll computes columns of all outputs, plane values apart, from rows. room columns of the outputs may be written.
  void mixAll(int k, int columns, int plane, float *out) {
    const int wide = roundUp(columns, run.strip);
    float *rest = room(spare, 4 * (size_t)wide);
    for (int o = 0; o < shape.outputs; o += 4) {
      float *to[4];
      for (int j = 0; j < 4; j++) to[j] = wide == columns && o + j < shape.outputs ? out + (size_t)(o + j) * plane : rest + (size_t)j * wide;
      run.mix(&weights[(size_t)o * k], &bias[o], rows.data(), k, wide, to, low, high);
      if (wide == columns) continue;
      for (int j = 0; j < 4 && o + j < shape.outputs; j++) memcpy(out + (size_t)(o + j) * plane, to[j], columns * sizeof(float));
    }
  }

  // mixPlaces: filters of 1 x 1. A piece of all planes is brought together, so that it stays in the nearest cache; planes lie so far
  // apart that their values would drive each other out.
  void mixPlaces(const float *in, int plane, float *out) {
    const int k = shape.inputs, wide = run.strip * std::max(1, 6144 / (k * run.strip));
    float *b = room(buffer, (size_t)k * wide);
    rows.resize(k);
    for (int i = 0; i < k; i++) rows[i] = b + (size_t)i * wide;
    for (int x = 0; x < plane; x += wide) {
      const int n = std::min(wide, plane - x), up = roundUp(n, run.strip);
      for (int i = 0; i < k; i++) {
        memcpy(b + (size_t)i * wide, in + (size_t)i * plane + x, n * sizeof(float));
        if (up > n) memset(b + (size_t)i * wide + n, 0, (up - n) * sizeof(float));
      }
      mixAll(k, n, plane, out + x);
    }
  }

  // lay lays a row of w values as shape.step rows of every step-th value, lane values apart, with zeros at both ends.
  void lay(const float *in, int w, float *to, int lane) const {
    if (shape.step == 1) {
      for (int x = 0; x < shape.pad; x++) to[x] = 0;
      memcpy(to + shape.pad, in, w * sizeof(float));
      for (int x = shape.pad + w; x < lane; x++) to[x] = 0;
      return;
    }
    // The value at x comes to place x + pad: places of even number make one row, of odd number the other.
    float *a = to + shape.pad % 2 * lane, *b = to + (1 - shape.pad % 2) * lane;
    const int skip = shape.pad / 2, next = (shape.pad + 1) / 2;
    for (int x = 0; x < skip; x++) a[x] = 0;
    for (int x = 0; x < next; x++) b[x] = 0;
    a += skip, b += next;
    for (int x = 0; x < w / 2; x++) a[x] = in[2 * x], b[x] = in[2 * x + 1];
    if (w % 2) a[w / 2] = in[w - 1];
    for (int x = (w + 1) / 2; x < lane - skip; x++) a[x] = 0;
    for (int x = w / 2; x < lane - next; x++) b[x] = 0;
  }

  // lane is how long a row is laid, so that whole strips of w outputs can be read.
  int lane(int w, int strip) const { return std::max(roundUp(shape.out(w), strip) + shape.size, w / shape.step + shape.size) + 8; }

  // filter: each channel by itself. The rows under a row of outputs are laid once each, in as many places as there are at a time.
  void filter(const float *in, int h, int w, float *out) {
    const int oh = shape.out(h), ow = shape.out(w), lane = this->lane(w, 8), row = lane * shape.step, size = shape.size;
    float *b = room(buffer, (size_t)(size + 1) * row), *none = b + (size_t)size * row, *last = room(spare, roundUp(ow, 8));
    memset(none, 0, row * sizeof(float));
    const float *under[8];
    const float *const full = out + (size_t)shape.outputs * oh * ow;
    for (int c = 0; c < shape.outputs; c++) {
      const float *x = in + (size_t)c * h * w;
      int laid = 0;
      for (int y = 0; y < oh; y++) {
        const int from = y * shape.step - shape.pad;
        for (; laid < std::min(h, from + size); laid++) lay(x + (size_t)laid * w, w, b + (size_t)(laid % size) * row, lane);
        for (int v = 0; v < size; v++) under[v] = from + v < 0 || from + v >= h ? none : b + (size_t)((from + v) % size) * row;
        // Writing past a row's end does no harm where other rows follow, which are written later.
        float *to = out + ((size_t)c * oh + y) * ow;
        const bool end = full - to < roundUp(ow, 8);
        run.filter(size, shape.step, &weights[(size_t)c * size * size], bias[c], under, lane, ow, end ? last : to, low, high);
        if (end) memcpy(to, last, ow * sizeof(float));
      }
    }
  }

  // mixRows: filters of 3 x 3 over all channels, a row of outputs at a time.
  void mixRows(const float *in, int h, int w, float *out) {
    const int oh = shape.out(h), ow = shape.out(w), lane = this->lane(w, run.strip), row = lane * shape.step, s = shape.size;
    const int k = shape.inputs * s * s;
    float *b = room(buffer, (size_t)shape.inputs * s * row);
    rows.resize(k);
    for (int i = 0; i < k; i++) rows[i] = b + (size_t)(i / s) * row + i % s % shape.step * lane + i % s / shape.step;
    for (int y = 0; y < oh; y++) {
      for (int i = 0; i < shape.inputs * s; i++) {
        const int from = y * shape.step + i % s - shape.pad;
        if (from < 0 || from >= h) memset(b + (size_t)i * row, 0, row * sizeof(float));
        else lay(in + ((size_t)(i / s) * h + from) * w, w, b + (size_t)i * row, lane);
      }
      mixAll(k, ow, oh * ow, out + (size_t)y * ow);
    }
  }
};

cv::Ptr<cv::dnn::Layer> convolution(cv::dnn::LayerParams &p) {
  const Shape s(p);
  if (s.known) return cv::makePtr<Conv>(p, s);
  return cv::dnn::ConvolutionLayer::create(p);
}

} // namespace

void pt_segnet_any_processor(int yes) { anyProcessor = yes; }

void pt_segnet_convolutions(void) { cv::dnn::LayerFactory::registerLayer("Convolution", convolution); }
