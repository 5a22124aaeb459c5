#include "chain.h"

#include "segnet.h"

#include <algorithm>
#include <cstring>
#include <limits>

namespace {

bool anyProcessor = false; // use the code for any processor on every one: for tests

const Kernels &best() {
#if defined(__x86_64__)
  if (!anyProcessor && __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma")) return avx2Kernels;
#endif
  return plainKernels;
}

int roundUp(int n, int to) { return (n + to - 1) / to * to; }

// apart is how far planes of n values lie apart: an odd number of cache lines, or those of many planes would drive each other out. Some
// values past a plane's end may be read and written.
size_t apart(size_t n) { return ((n + 39) / 16 | 1) * 16; }

// same says that the entries of a parameter are one number, which is the usual one where there is no such parameter.
bool same(const cv::dnn::LayerParams &p, const char *name, int usual, int *value) {
  *value = usual;
  if (!p.has(name)) return true;
  const cv::dnn::DictValue &d = p.get(name);
  *value = d.get<int>(0);
  for (int i = 1; i < d.size(); i++)
    if (d.get<int>(i) != *value) return false;
  return true;
}

// Planes are some rows of channels of a picture.
struct Planes {
  float *v;
  size_t plane; // how far channels lie apart
};

// Span is some channels.
struct Span {
  int from, to;
};

// Work is a stage with a picture of some size. What it keeps lies in the layer's memory at the places named.
struct Work {
  const Stage &s;
  int inH, inW, h, w;
  int rows;       // of outputs at a time
  int lane, held; // rows of inputs are laid as step rows of every step-th value, each of length lane; so many are held
  int have;       // rows of inputs that have been laid
  int group;      // channels of outputs at a time
  int channels;   // of inputs that are held
  Planes in;      // what its inputs were made to
  size_t outs, plane, ins, inPlane;

  Work(const Stage &stage, int inRows, int inColumns, int strip)
      : s(stage), inH(inRows), inW(inColumns), h(s.out(inH)), w(s.out(inW)), rows(0),
        lane(std::max(roundUp(w, strip), inW / s.step) + s.size + 8), held(0), have(0), group(s.outputs), channels(s.inputs), in() {}

  int row() const { return lane * s.step; }

  // lay lays a row of inputs, with zeros at both ends: at most two are read there.
  void lay(const float *in, float *to) const {
    const int pad = s.pad;
    if (s.step == 1) {
      to[0] = to[1] = 0;
      memcpy(to + pad, in, inW * sizeof(float));
      to[pad + inW] = to[pad + inW + 1] = 0;
      return;
    }
    // The value at x comes to place x + pad: places of even number make one row, of odd number the other.
    float *__restrict__ a = to + pad % 2 * lane, *__restrict__ b = to + (1 - pad % 2) * lane;
    a[0] = b[0] = 0;
    a += pad / 2, b += (pad + 1) / 2;
    for (int x = 0; x < inW / 2; x++) a[x] = in[2 * x], b[x] = in[2 * x + 1];
    if (inW % 2) a[inW / 2] = in[inW - 1];
    a[(inW + 1) / 2] = a[(inW + 1) / 2 + 1] = b[inW / 2] = b[inW / 2 + 1] = 0;
  }
};

// Small pictures are gone through as a whole: weights are then read once. Of others as many rows are taken at a time as make about so many
// places.
constexpr int smallPlaces = 1000, bandPlaces = 192;

int rowsAtATime(int h, int w) { return h * w <= smallPlaces ? h : std::min(h, std::max(1, bandPlaces / w)); }

// Run is a chain under way, or about to be.
class Run {
public:
  size_t room; // values that it needs

  Run(const std::vector<Stage> &stages, const Kernels &k, int h, int w) : room(0), kernels(k) {
    size_t most = 0;
    for (const Stage &s : stages) {
      works.emplace_back(s, h, w, k.strip);
      h = works.back().h, w = works.back().w;
      most = std::max<size_t>(most, s.terms());
    }
    terms.resize(most);
    int rows = rowsAtATime(h, w);
    for (size_t i = works.size(); i-- > 0;) rows = arrange(i, rows);
    spare = take(4 * (size_t)(pieceValues + k.strip) + roundUp(w, k.strip));
  }

  int h() const { return works.back().h; }
  int w() const { return works.back().w; }

  void forward(const std::vector<cv::Mat> &in, cv::Mat &out, float *memory) {
    at = memory, ins = &in;
    answer = {out.ptr<float>(), (size_t)h() * w()};
    for (const Work &k : works)
      if (k.s.size > 1)
        for (int c = 0; c < k.channels; c++) memset(laid(k, c) + (size_t)k.held * k.row(), 0, k.row() * sizeof(float));
    const Work &last = works.back();
    for (int y = 0; y < h(); y += last.rows)
      for (int from = 0; from < last.s.outputs; from += last.group)
        make((int)works.size() - 1, y, std::min(last.rows, h() - y), {from, std::min(last.s.outputs, from + last.group)});
  }

private:
  const Kernels &kernels;
  std::vector<Work> works;
  std::vector<const float *> terms;
  std::vector<int> under;
  size_t spare;
  float *at;
  const std::vector<cv::Mat> *ins;
  Planes answer;

  size_t take(size_t n) {
    const size_t from = room;
    room += (n + 15) / 16 * 16; // whole cache lines
    return from;
  }

  // arrange gives a stage its memory; it answers how many rows of its inputs are wanted at a time.
  int arrange(size_t i, int rows) {
    Work &k = works[i];
    const bool last = i + 1 == works.size();
    if (k.s.own || (!last && works[i + 1].s.own)) k.group = std::min(k.s.outputs, groupChannels);
    k.rows = rows;
    k.plane = apart((size_t)rows * k.w);
    k.outs = take(last ? 0 : roundUp(k.group, 4) * k.plane);
    if (k.s.size == 1) {
      k.inPlane = k.plane;
      k.ins = take(i == 0 ? k.s.inputs * k.inPlane : 0);
      return rows;
    }
    k.held = std::min(k.inH, (rows - 1) * k.s.step + k.s.size);
    k.inPlane = (size_t)(k.held + 1) * k.row(); // the last is one of zeros
    if (k.s.own && rows == k.h) k.channels = k.group; // no row is of use for a later one
    k.ins = take(k.channels * k.inPlane);
    under.resize(std::max<size_t>(under.size(), (size_t)rows * k.s.size));
    return k.held;
  }

  // make makes n rows of some channels of a stage's outputs.
  Planes make(int i, int y, int n, Span c) {
    Work &k = works[i];
    const bool last = i + 1 == (int)works.size();
    const Planes out = last ? Planes{answer.v + c.from * answer.plane + (size_t)y * k.w, answer.plane} : Planes{at + k.outs, k.plane};
    if (k.s.size == 1) {
      point(i, y, n, c, out);
    } else {
      lay(i, std::min(k.inH, (y + n - 1) * k.s.step - k.s.pad + k.s.size), k.s.own ? c : Span{0, k.s.inputs});
      findUnder(k, y, n);
      if (k.s.own) filter(k, n, c, out, last);
      else full(k, n, c, out);
    }
    if (k.s.added) add(k, y, n, c, out);
    return out;
  }

  // point: filters of 1 x 1.
  void point(int i, int y, int n, Span c, Planes out) {
    Work &k = works[i];
    for (Span in = {0, 0}; in.from < k.s.inputs; in.from = in.to) {
      in.to = std::min(k.s.inputs, in.from + groupBefore(i));
      if (c.from == 0) k.in = before(i, y, n, in); // for the other channels it is there
      for (int j = in.from; j < in.to; j++) terms[j - in.from] = k.in.v + (j - in.from) * k.in.plane;
      mix(k.s, n * k.w, c, in, out);
    }
  }

  // groupBefore is how many channels of a stage's inputs are made at a time.
  int groupBefore(int i) const { return i > 0 ? works[i - 1].group : works[0].s.inputs; }

  // before gives n rows of some channels of a stage's inputs.
  Planes before(int i, int y, int n, Span c) {
    if (i > 0) return make(i - 1, y, n, c);
    Work &k = works[0];
    const size_t plane = (size_t)k.inH * k.inW;
    const Planes in = {const_cast<float *>((*ins)[0].ptr<float>()) + c.from * plane + (size_t)y * k.inW, plane};
    if (k.s.size > 1) return in;
    // Planes that lie a power of two apart would drive each other out of the caches.
    const Planes near = {at + k.ins, k.inPlane};
    for (int j = 0; j < c.to - c.from; j++) memcpy(near.v + j * near.plane, in.v + j * in.plane, (size_t)n * k.inW * sizeof(float));
    return near;
  }

  // lay lays the rows of some channels of inputs up to one.
  void lay(int i, int to, Span c) {
    Work &k = works[i];
    const int n = to - k.have;
    for (Span some = c; n > 0 && some.from < c.to; some.from = some.to) {
      some.to = std::min(c.to, some.from + groupBefore(i));
      const Planes in = before(i, k.have, n, some);
      for (int j = some.from; j < some.to; j++)
        for (int y = 0; y < n; y++)
          k.lay(in.v + (j - some.from) * in.plane + (size_t)y * k.inW, laid(k, j) + (size_t)((k.have + y) % k.held) * k.row());
    }
    if (c.to == k.s.inputs) k.have = to;
  }

  // laid is where a channel's inputs are laid.
  float *laid(const Work &k, int channel) const { return at + k.ins + channel % k.channels * k.inPlane; }

  // findUnder finds the laid rows under n rows of outputs: where they lie in each channel's.
  void findUnder(const Work &k, int y, int n) {
    for (int j = 0; j < n; j++)
      for (int v = 0; v < k.s.size; v++) {
        const int from = (y + j) * k.s.step - k.s.pad + v;
        under[j * k.s.size + v] = (from < 0 || from >= k.inH ? k.held : from % k.held) * k.row();
      }
  }

  // filter: each channel by itself.
  void filter(const Work &k, int n, Span some, Planes out, bool last) {
    const int size = k.s.size;
    const float *rows[8];
    for (int c = some.from; c < some.to; c++)
      for (int j = 0; j < n; j++) {
        for (int v = 0; v < size; v++) rows[v] = laid(k, c) + under[j * size + v];
        float *to = out.v + (c - some.from) * out.plane + (size_t)j * k.w, *into = last ? at + spare : to;
        // What is written past a row's end is written over by the next row, or lies between planes.
        kernels.filter(size, k.s.step, &k.s.weights[(size_t)c * size * size], k.s.bias[c], rows, k.lane, k.w, into, k.s.low, k.s.high);
        if (last) memcpy(to, into, k.w * sizeof(float));
      }
  }

  // full: a filter over all channels, a row of outputs at a time.
  void full(const Work &k, int n, Span some, Planes out) {
    for (int j = 0; j < n; j++) {
      size_t t = 0;
      for (int c = 0; c < k.s.inputs; c++)
        for (int v = 0; v < k.s.size; v++)
          for (int u = 0; u < k.s.size; u++) terms[t++] = laid(k, c) + under[j * k.s.size + v] + u % k.s.step * k.lane + u / k.s.step;
      mix(k.s, k.w, some, {0, k.s.inputs}, {out.v + (size_t)j * k.w, out.plane});
    }
  }

  static constexpr int pieceValues = 4096; // half of the nearest cache

  // mix computes n columns of a stage's outputs c, as far as the inputs in make them: terms are theirs. The columns are gone through in
  // pieces whose terms stay in the nearest cache for all outputs.
  void mix(const Stage &s, int n, Span c, Span in, Planes out) {
    const int each = s.size * s.size, count = (in.to - in.from) * each, strip = kernels.strip;
    const int piece = strip * std::max(1, pieceValues / (count * strip));
    const bool more = in.from > 0, last = in.to == s.inputs;
    const float none = std::numeric_limits<float>::infinity(), low = last ? s.low : -none, high = last ? s.high : none;
    float *junk = at + spare, *rest = junk + 3 * piece;
    for (int x = 0; x < n; x += piece) {
      const int some = std::min(piece, n - x), whole = some / strip * strip, left = some - whole;
      for (int o = c.from; o < c.to; o += 4) {
        const float *w = &s.weights[(size_t)o * s.terms() + 4 * (size_t)(in.from * each)], *bias = more ? nullptr : &s.bias[o];
        const int real = std::min(4, c.to - o); // the outputs are filled up to a multiple of four
        float *to[4], *end[4];
        for (int j = 0; j < 4; j++) {
          to[j] = j < real ? out.v + (size_t)(o - c.from + j) * out.plane + x : junk + (j - 1) * piece;
          end[j] = rest + j * strip;
          if (more && left && j < real) memcpy(end[j], to[j] + whole, left * sizeof(float));
        }
        if (whole) kernels.mix(w, bias, terms.data(), x, count, whole, to, low, high);
        if (!left) continue;
        kernels.mix(w, bias, terms.data(), x + whole, count, strip, end, low, high);
        for (int j = 0; j < real; j++) memcpy(to[j] + whole, end[j], left * sizeof(float));
      }
    }
  }

  // add adds the rows of another picture of the layer's.
  void add(const Work &k, int y, int n, Span some, Planes out) {
    const cv::Mat &other = (*ins)[k.s.added];
    for (int c = some.from; c < some.to; c++) {
      const float *from = other.ptr<float>(0, c);
      float *const rows = out.v + (c - some.from) * out.plane;
      if (!k.s.doubled) {
        float *__restrict__ sum = rows;
        const float *__restrict__ term = from + (size_t)y * k.w;
        for (int x = 0; x < n * k.w; x++) sum[x] += term[x];
        continue;
      }
      for (int j = 0; j < n; j++) {
        float *__restrict__ sum = rows + (size_t)j * k.w;
        const float *__restrict__ term = from + (size_t)((y + j) / 2) * (k.w / 2);
        for (int x = 0; x < k.w / 2; x++) sum[2 * x] += term[x], sum[2 * x + 1] += term[x];
      }
    }
  }
};

} // namespace

void pt_segnet_any_processor(int yes) { anyProcessor = yes; }

bool Stage::read(const cv::dnn::LayerParams &p) {
  if (p.blobs.empty() || p.blobs[0].dims != 4 || p.blobs[0].type() != CV_32F || p.blobs.size() > 2) return false;
  const cv::Mat &w = p.blobs[0];
  const int groups = p.get<int>("group", 1);
  outputs = w.size[0], inputs = w.size[1] * groups, size = w.size[2];
  own = groups > 1;
  low = -std::numeric_limits<float>::infinity(), high = -low;
  added = 0, doubled = false;
  int dilation;
  if (w.size[3] != size || p.has("pad_mode") || !same(p, "dilation", 1, &dilation) || !same(p, "stride", 1, &step) || !same(p, "pad", 0, &pad)) return false;
  const bool known = own ? groups == outputs && groups == inputs && (size == 3 || size == 5) : size == 1 || size == 3;
  if (!known || dilation != 1 || step < 1 || step > std::min(2, size) || pad > size / 2) return false;
  arrange(w.ptr<float>(), p.blobs.size() > 1 ? p.blobs[1].ptr<float>() : nullptr);
  return true;
}

bool Stage::bounded() const { return low > -std::numeric_limits<float>::infinity() || high < std::numeric_limits<float>::infinity(); }

// arrange takes over weights and, where there is one, bias; weights of filters over all channels so that those of four outputs lie side by
// side.
void Stage::arrange(const float *w, const float *b) {
  const int k = terms();
  bias.assign(roundUp(outputs, 4), 0);
  if (b) std::copy(b, b + outputs, bias.begin());
  if (own) {
    weights.assign(w, w + (size_t)outputs * size * size);
    return;
  }
  weights.assign((size_t)roundUp(outputs, 4) * k, 0);
  for (int o = 0; o < outputs; o++)
    for (int i = 0; i < k; i++) weights[(size_t)(o / 4 * k + i) * 4 + o % 4] = w[(size_t)o * k + i];
}

Chain::Chain(const Stage &s) : stages(1, s), kernels(best()) { type = "Convolution"; }

bool Chain::canTake(const Stage &next) const {
  const bool filters = std::any_of(stages.begin(), stages.end(), [](const Stage &s) { return s.own; });
  return !next.own || !filters || next.inputs <= groupChannels;
}

bool Chain::getMemoryShapes(const Shapes &in, const int, Shapes &out, Shapes &internals) const {
  CV_Assert(!in.empty() && in[0].size() == 4 && in[0][0] == 1 && in[0][1] == stages[0].inputs);
  int h = in[0][2], w = in[0][3];
  for (const Stage &s : stages) {
    h = s.out(h), w = s.out(w);
    CV_Assert(h > 0 && w > 0);
    const int by = s.doubled ? 2 : 1;
    if (s.added) CV_Assert(s.added < (int)in.size() && in[s.added][1] == s.outputs && in[s.added][2] * by == h && in[s.added][3] * by == w);
  }
  out.assign(1, cv::dnn::MatShape{1, stages.back().outputs, h, w});
  internals.assign(1, cv::dnn::MatShape{1, (int)Run(stages, kernels, in[0][2], in[0][3]).room});
  return false;
}

void Chain::forward(cv::InputArrayOfArrays ins, cv::OutputArrayOfArrays outs, cv::OutputArrayOfArrays internals) {
  std::vector<cv::Mat> in, out, memory;
  ins.getMatVector(in), outs.getMatVector(out), internals.getMatVector(memory);
  for (const cv::Mat &m : in) CV_Assert(m.type() == CV_32F && m.isContinuous());
  CV_Assert(out.size() == 1 && out[0].isContinuous() && memory.size() == 1);
  Run(stages, kernels, in[0].size[2], in[0].size[3]).forward(in, out[0], memory[0].ptr<float>());
}
