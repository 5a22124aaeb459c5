// A network of convolutions, run a part of the picture at a time, so that what lies between the convolutions of a step stays in the near
// caches and is never there as a whole. Every sum is taken in the order of the network's definition: input by input, row by row.
#include "net.h"

#include "kernels.h"

#include <algorithm>
#include <cstring>
#include <new>
#include <vector>

namespace {

int roundUp(int n, int to) { return (n + to - 1) / to * to; }

// Room is memory that is kept from one picture to the next and grows to what is asked for.
class Room {
public:
  // values gives n values, from the beginning of a cache line on, that need not be anything and may be read some way past their end.
  float *values(size_t n) {
    if (v.size() < n + slack) std::vector<float>(n + slack).swap(v); // nothing is copied
    return v.data() + (line - reinterpret_cast<uintptr_t>(v.data()) / sizeof(float) % line) % line;
  }

private:
  static constexpr size_t line = 16, slack = 64;
  std::vector<float> v;
};

// apart is how far planes of n values lie apart: an odd number of cache lines, or those of many planes would drive each other out.
size_t apart(size_t n) { return ((n + 31) / 16 | 1) * 16; }

struct Conv : pt_segnet_conv {
  std::vector<float> weights, bias;

  Conv(const pt_segnet_conv &c, const float *w, const float *b) : pt_segnet_conv(c), bias(roundUp(c.outputs, 4), 0.f) {
    memcpy(bias.data(), b, outputs * sizeof(float));
    if (own) {
      weights.assign(w, w + (size_t)outputs * size * size);
      return;
    }
    const int k = terms(); // those of four outputs side by side
    weights.assign((size_t)roundUp(outputs, 4) * k, 0.f);
    for (int o = 0; o < outputs; o++)
      for (int i = 0; i < k; i++) weights[(size_t)(o / 4 * k + i) * 4 + o % 4] = w[(size_t)o * k + i];
  }

  int terms() const { return inputs * size * size; }
  int out(int n) const { return (n + 2 * pad - size) / step + 1; }
};

// Planes are a picture, or some rows of one.
struct Planes {
  float *v;
  size_t plane; // how far planes lie apart
  Planes part(int from) const { return {v + from, plane}; }
};

struct Picture : Planes {
  int channels, h, w, slot;
};

// Mixing is what mixAll computes.
struct Mixing {
  const Conv &conv;
  int from, to;         // outputs, four at a time
  int first, terms;     // the terms of the sums
  bool more, last;      // terms came before, which are in out; none comes after
  const float *const *rows; // a term each
};

class Net {
public:
  explicit Net(bool anyProcessor) : run(kernels(anyProcessor)), pictures(1), lastUse(1, -1) {}

  void add(const pt_segnet_conv &c, const float *w, const float *bias) { convs.emplace_back(c, w, bias); }

  void add(const pt_segnet_step &s) {
    const int now = (int)steps.size();
    steps.push_back(s);
    pictures.resize(std::max<size_t>(pictures.size(), s.out + 1));
    lastUse.resize(pictures.size(), -1);
    for (int p : {s.in, s.up, s.add})
      if (p >= 0) lastUse[p] = now;
  }

  float *input(int planes, int h, int w) {
    static_cast<Planes &>(pictures[0]) = {entry.values((size_t)planes * h * w), (size_t)h * w};
    pictures[0].channels = planes, pictures[0].h = h, pictures[0].w = w;
    return pictures[0].v;
  }

  // forward gives the last step's picture, nullptr where the pictures of a step do not fit each other.
  const Picture *forward() {
    std::vector<bool> taken(slots.size(), false);
    for (size_t i = 0; i < steps.size(); i++) {
      const pt_segnet_step &s = steps[i];
      Picture &to = pictures[s.out];
      shape(s, to);
      if (!fit(s, to)) return nullptr;
      to.slot = 0;
      while (to.slot < (int)taken.size() && taken[to.slot]) to.slot++;
      if (to.slot == (int)taken.size()) taken.push_back(false);
      if (slots.size() < taken.size()) slots.resize(taken.size());
      taken[to.slot] = true;
      to.plane = i + 1 < steps.size() ? apart((size_t)to.h * to.w) : (size_t)to.h * to.w;
      to.v = slots[to.slot].values(to.channels * to.plane);
      if (s.filter >= 0) chain(s);
      else if (convs[s.point].size == 1) points(s);
      else full(s);
      for (int p : {s.in, s.up, s.add})
        if (p > 0 && lastUse[p] == (int)i) taken[pictures[p].slot] = false;
    }
    return &pictures[steps.back().out];
  }

private:
  const Kernels &run;
  std::vector<Conv> convs;
  std::vector<pt_segnet_step> steps;
  std::vector<Picture> pictures;
  std::vector<int> lastUse; // of a picture: the step
  std::vector<Room> slots;  // of pictures
  Room entry, spare, laid, fresh, filtered, mixed;
  std::vector<const float *> rows, filteredRows, mixedRows;

  static const Kernels &kernels(bool anyProcessor) {
#if defined(__x86_64__)
    if (!anyProcessor && __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma")) return avx2Kernels;
#endif
    return plainKernels;
  }

  const Conv *conv(int i) const { return i < 0 ? nullptr : &convs[i]; }

  void shape(const pt_segnet_step &s, Picture &to) const {
    const Picture &in = pictures[s.in];
    to.h = in.h, to.w = in.w;
    for (int i : {s.point, s.filter, s.mix, s.head})
      if (const Conv *c = conv(i)) to.channels = c->outputs, to.h = c->out(to.h), to.w = c->out(to.w);
  }

  // fit says whether the pictures that are added have the sizes that they must have.
  bool fit(const pt_segnet_step &s, const Picture &to) const {
    const Picture &in = pictures[s.in];
    if (to.h < 1 || to.w < 1 || in.channels != convs[s.point >= 0 ? s.point : s.filter].inputs) return false;
    if (s.up >= 0 && (pictures[s.up].h * 2 != in.h || pictures[s.up].w * 2 != in.w)) return false;
    return s.add < 0 || (pictures[s.add].h == to.h && pictures[s.add].w == to.w);
  }

  static constexpr int pieceValues = 4096; // half of the nearest cache

  // mixAll computes n columns. The columns are gone through in pieces whose terms stay in the nearest cache for all outputs.
  void mixAll(const Mixing &m, int n, Planes out) {
    const int strip = run.strip, piece = strip * std::max(1, pieceValues / (m.terms * strip));
    float *junk = spare.values(4 * (size_t)(piece + strip)), *rest = junk + 3 * piece;
    const float low = m.last ? m.conv.low : -__builtin_inff(), high = m.last ? m.conv.high : __builtin_inff();
    for (int x = 0; x < n; x += piece) {
      const int some = std::min(piece, n - x), whole = some / strip * strip, left = some - whole;
      for (int o = m.from; o < m.to; o += 4) {
        const float *w = &m.conv.weights[(size_t)o * m.conv.terms() + 4 * (size_t)m.first], *bias = m.more ? nullptr : &m.conv.bias[o];
        const int real = std::min(4, m.to - o); // the outputs are filled up to a multiple of four
        float *to[4];
        for (int j = 0; j < 4; j++) to[j] = j < real ? out.v + (size_t)(o - m.from + j) * out.plane + x : junk + (j - 1) * piece;
        if (whole) run.mix(w, bias, m.rows, x, m.terms, whole, to, low, high);
        if (!left) continue;
        float *end[4];
        for (int j = 0; j < 4; j++) {
          end[j] = rest + j * strip;
          if (m.more && j < real) memcpy(end[j], to[j] + whole, left * sizeof(float));
        }
        run.mix(w, bias, m.rows, x + whole, m.terms, strip, end, low, high);
        for (int j = 0; j < real; j++) memcpy(to[j] + whole, end[j], left * sizeof(float));
      }
    }
  }

  static void point(std::vector<const float *> &rows, Planes p, int n) {
    rows.resize(n);
    for (int i = 0; i < n; i++) rows[i] = p.v + i * p.plane;
  }

  // points: a convolution of 1 x 1 by itself.
  void points(const pt_segnet_step &s) {
    const Conv &c = convs[s.point];
    const Picture &in = pictures[s.in];
    point(rows, in, c.inputs);
    mixAll({c, 0, c.outputs, 0, c.inputs, false, true, rows.data()}, in.h * in.w, pictures[s.out]);
  }

  // Lane is how rows are laid for a filter: as step rows of every step-th value, each so long that whole strips can be read.
  struct Lane {
    const Conv &c;
    int lane, row;
    Lane(const Conv &conv, int w, int strip)
        : c(conv), lane(std::max(roundUp(conv.out(w), strip) + conv.size, w / conv.step + conv.size) + 8), row(lane * conv.step) {}

    // lay lays the values of a row of w; what lies at both sides of them is left.
    void lay(const float *in, int w, float *to) const {
      if (c.step == 1) {
        memcpy(to + c.pad, in, w * sizeof(float));
        return;
      }
      // The value at x comes to place x + pad: places of even number make one row, of odd number the other.
      float *__restrict__ a = to + c.pad % 2 * lane + c.pad / 2, *__restrict__ b = to + (1 - c.pad % 2) * lane + (c.pad + 1) / 2;
      for (int x = 0; x < w / 2; x++) a[x] = in[2 * x], b[x] = in[2 * x + 1];
      if (w % 2) a[w / 2] = in[w - 1];
    }
  };

  // full: a filter over all channels, a row of outputs at a time.
  void full(const pt_segnet_step &s) {
    const Conv &c = convs[s.point];
    const Picture &in = pictures[s.in], &out = pictures[s.out];
    const Lane lane(c, in.w, run.strip);
    const int size = c.size;
    float *b = laid.values((size_t)(c.inputs * size + 1) * lane.row), *none = b + (size_t)c.inputs * size * lane.row;
    memset(b, 0, (size_t)(c.inputs * size + 1) * lane.row * sizeof(float));
    rows.resize(c.terms());
    for (int y = 0, have = 0; y < out.h; y++) {
      const int from = y * c.step - c.pad;
      for (const int to = std::min(in.h, from + size); have < to; have++)
        for (int i = 0; i < c.inputs; i++) lane.lay(in.v + i * in.plane + (size_t)have * in.w, in.w, b + (size_t)(i * size + have % size) * lane.row);
      for (int i = 0, k = 0; i < c.inputs; i++)
        for (int v = 0; v < size; v++) {
          const int t = from + v;
          const float *under = t < 0 || t >= in.h ? none : b + (size_t)(i * size + t % size) * lane.row;
          for (int u = 0; u < size; u++) rows[k++] = under + u % c.step * lane.lane + u / c.step;
        }
      mixAll({c, 0, c.outputs, 0, c.terms(), false, true, rows.data()}, out.w, out.part(y * out.w));
    }
  }

  // Band is a part of a chain's work: some channels of the filter, from its rows of outputs y on.
  struct Band {
    int from, to, y, n;
    int have, need; // rows of the filter's inputs that are laid already, and that must be
  };

  // Chain is a step with a filter under way.
  struct Chain {
    const pt_segnet_step &s;
    const Conv &filter;
    const Picture &in, &out;
    Lane lane;
    int rows, channels, held; // rows of outputs and channels at a time; rows of inputs that are held
    float *laid, *none;
    Planes filtered;

    float *at(int channel, int row) const { return laid + ((size_t)channel % channels * held + row % held) * lane.row; }
  };

  static constexpr int fewPlaces = 1000, fewChannels = 32, bandPlaces = 192;

  // chain: all rows at once, a few channels at a time, where there are few rows: weights are then read once. Where there are many, all
  // channels, a few rows at a time.
  void chain(const pt_segnet_step &s) {
    const Conv &f = convs[s.filter];
    const Picture &in = pictures[s.in], &out = pictures[s.out];
    Chain c = {s, f, in, out, Lane(f, in.w, run.strip), out.h, f.outputs < fewChannels ? f.outputs : fewChannels, in.h, nullptr, nullptr, {nullptr, 0}};
    if (out.h * out.w > fewPlaces) {
      c.rows = std::max(1, bandPlaces / out.w), c.channels = f.outputs;
      c.held = (c.rows - 1) * f.step + f.size;
    }
    const size_t room = (size_t)c.channels * c.held * c.lane.row;
    c.laid = laid.values(room + c.lane.row);
    c.none = c.laid + room;
    memset(c.laid, 0, (room + c.lane.row) * sizeof(float)); // what lies beside the rows stays so
    c.filtered.plane = apart(c.rows * out.w + run.strip);
    c.filtered.v = filtered.values(c.channels * c.filtered.plane);
    for (int y = 0, have = 0; y < out.h; y += c.rows) {
      Band b = {0, 0, y, std::min(c.rows, out.h - y), have, 0};
      b.need = std::min(in.h, (y + b.n - 1) * f.step - f.pad + f.size);
      for (; b.from < f.outputs; b.from = b.to) {
        b.to = std::min(f.outputs, b.from + c.channels);
        lay(c, b);
        filterBand(c, b);
        afterFilter(c, b);
      }
      finish(c, b);
      have = b.need;
    }
  }

  // lay lays what the filter reads: the picture, or its points mixed.
  void lay(const Chain &c, const Band &b) {
    const Conv *p = conv(c.s.point);
    const int w = c.in.w, n = b.need - b.have;
    Planes from = c.in.part(b.have * w);
    if (n <= 0) return;
    if (p) {
      point(rows, from, p->inputs);
      from = {nullptr, apart((size_t)n * w)};
      from.v = fresh.values((b.to - b.from) * from.plane);
      mixAll({*p, b.from, b.to, 0, p->inputs, false, true, rows.data()}, n * w, from);
    } else {
      from.v += b.from * from.plane;
    }
    for (int i = b.from; i < b.to; i++)
      for (int y = 0; y < n; y++) {
        float *row = from.v + (i - b.from) * from.plane + (size_t)y * w;
        if (c.s.up >= 0) addDoubled(pictures[c.s.up], i, b.have + y, row);
        c.lane.lay(row, w, c.at(i, b.have + y));
      }
  }

  // addDoubled adds a row of a picture shown at twice its size.
  static void addDoubled(const Picture &small, int channel, int y, float *__restrict__ to) {
    const float *__restrict__ from = small.v + channel * small.plane + (size_t)(y / 2) * small.w;
    for (int x = 0; x < small.w; x++) to[2 * x] += from[x], to[2 * x + 1] += from[x];
  }

  void filterBand(const Chain &c, const Band &b) {
    const Conv &f = c.filter;
    const float *under[8];
    for (int i = b.from; i < b.to; i++)
      for (int y = 0; y < b.n; y++) {
        const int from = (b.y + y) * f.step - f.pad;
        for (int v = 0; v < f.size; v++) under[v] = from + v < 0 || from + v >= c.in.h ? c.none : c.at(i, from + v);
        // What is written past a row's end is written over by the next row.
        float *to = c.filtered.v + (i - b.from) * c.filtered.plane + (size_t)y * c.out.w;
        run.filter(f.size, f.step, &f.weights[(size_t)i * f.size * f.size], f.bias[i], under, c.lane.lane, c.out.w, to, f.low, f.high);
      }
  }

  // afterFilter adds what the channels of the band make to the outputs.
  void afterFilter(const Chain &c, const Band &b) {
    const Conv *m = conv(c.s.mix);
    const int n = b.n * c.out.w;
    if (!m) {
      for (int i = b.from; i < b.to; i++)
        memcpy(c.out.v + i * c.out.plane + (size_t)b.y * c.out.w, c.filtered.v + (i - b.from) * c.filtered.plane, n * sizeof(float));
      return;
    }
    point(filteredRows, c.filtered, b.to - b.from);
    mixAll({*m, 0, m->outputs, b.from, b.to - b.from, b.from > 0, b.to == m->inputs, filteredRows.data()}, n, mixedInto(c, b));
  }

  // mixedInto is where the mixed rows of a band go.
  Planes mixedInto(const Chain &c, const Band &b) {
    if (c.s.head < 0) return c.out.part(b.y * c.out.w);
    const size_t plane = apart((size_t)c.rows * c.out.w);
    return {mixed.values(convs[c.s.mix].outputs * plane), plane};
  }

  // finish does what is left when all channels of a band of rows are there.
  void finish(const Chain &c, const Band &b) {
    if (c.s.mix < 0) return;
    const int channels = convs[c.s.mix].outputs, n = b.n * c.out.w;
    const Planes to = mixedInto(c, b);
    if (c.s.add >= 0) {
      const Picture &p = pictures[c.s.add];
      for (int i = 0; i < channels; i++) {
        float *__restrict__ sum = to.v + i * to.plane;
        const float *__restrict__ term = p.v + i * p.plane + (size_t)b.y * p.w;
        for (int x = 0; x < n; x++) sum[x] += term[x];
      }
    }
    if (const Conv *h = conv(c.s.head)) {
      point(mixedRows, to, channels);
      mixAll({*h, 0, h->outputs, 0, h->inputs, false, true, mixedRows.data()}, n, c.out.part(b.y * c.out.w));
    }
  }
};

} // namespace

struct pt_segnet : Net {
  using Net::Net;
};

pt_segnet *pt_segnet_new(int any_processor) {
  try {
    return new pt_segnet(any_processor != 0);
  } catch (const std::bad_alloc &) {
    return nullptr;
  }
}

void pt_segnet_free(pt_segnet *net) { delete net; }

int pt_segnet_add_conv(pt_segnet *net, const pt_segnet_conv *conv, const float *weights, const float *bias) {
  try {
    net->add(*conv, weights, bias);
    return 1;
  } catch (const std::bad_alloc &) {
    return 0;
  }
}

int pt_segnet_add_step(pt_segnet *net, const pt_segnet_step *step) {
  try {
    net->add(*step);
    return 1;
  } catch (const std::bad_alloc &) {
    return 0;
  }
}

float *pt_segnet_input(pt_segnet *net, int planes, int h, int w) {
  try {
    return net->input(planes, h, w);
  } catch (const std::bad_alloc &) {
    return nullptr;
  }
}

const float *pt_segnet_run(pt_segnet *net, int *planes, int *h, int *w) {
  try {
    const Picture *p = net->forward();
    if (!p) return nullptr;
    *planes = p->channels, *h = p->h, *w = p->w;
    return p->v;
  } catch (const std::bad_alloc &) {
    return nullptr;
  }
}

int pt_segnet_finite(const float *v, size_t n) {
  int bad = 0;
  for (size_t i = 0; i < n; i++) { // the exponent of infinity, and of what is no number, is all ones
    uint32_t bits;
    memcpy(&bits, v + i, sizeof bits);
    bad |= (bits & 0x7f800000u) == 0x7f800000u;
  }
  return !bad;
}
