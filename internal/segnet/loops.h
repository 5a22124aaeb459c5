// The inner loops of the convolutions of chain.cpp. This file is compiled several times, for processors of different kinds, each time
// in a namespace of its own. A vector is eight values; where the processor has narrower registers the compiler splits it.

typedef float vec __attribute__((vector_size(32), aligned(4), may_alias));

static inline vec load(const float *p) { return *reinterpret_cast<const vec *>(p); }
static inline void store(float *p, vec v) { *reinterpret_cast<vec *>(p) = v; }
static inline vec all(float v) { return vec{v, v, v, v, v, v, v, v}; }
static inline vec bound(vec v, vec lo, vec hi) {
  v = v > lo ? v : lo;
  return v < hi ? v : hi;
}

enum { strip = 24 }; // columns that are computed at once: as many as registers hold

// mix gives four rows of columns outputs (a multiple of strip): sums over k rows of values, from place at on, weighted by w (four a row),
// plus the bias or, where there is none, what the outputs hold.
static void mix(const float *w, const float *bias, const float *const *rows, int at, int k, int columns, float *const *out, float low, float high) {
  const vec lo = all(low), hi = all(high);
  for (int x = 0; x < columns; x += strip) {
    vec s0[3], s1[3], s2[3], s3[3];
    for (int j = 0; j < 3; j++) {
      const int o = x + 8 * j;
      s0[j] = bias ? all(bias[0]) : load(out[0] + o), s1[j] = bias ? all(bias[1]) : load(out[1] + o);
      s2[j] = bias ? all(bias[2]) : load(out[2] + o), s3[j] = bias ? all(bias[3]) : load(out[3] + o);
    }
    const float *u = w;
    for (int i = 0; i < k; i++, u += 4) {
      const float *q = rows[i] + at + x;
      const vec v0 = load(q), v1 = load(q + 8), v2 = load(q + 16);
      vec a = all(u[0]);
      s0[0] += a * v0, s0[1] += a * v1, s0[2] += a * v2;
      a = all(u[1]);
      s1[0] += a * v0, s1[1] += a * v1, s1[2] += a * v2;
      a = all(u[2]);
      s2[0] += a * v0, s2[1] += a * v1, s2[2] += a * v2;
      a = all(u[3]);
      s3[0] += a * v0, s3[1] += a * v1, s3[2] += a * v2;
    }
    for (int j = 0; j < 3; j++) {
      const int o = x + 8 * j;
      store(out[0] + o, bound(s0[j], lo, hi));
      store(out[1] + o, bound(s1[j], lo, hi));
      store(out[2] + o, bound(s2[j], lo, hi));
      store(out[3] + o, bound(s3[j], lo, hi));
    }
  }
}

// filterStrip gives n vectors of a row of a channel filtered by itself.
template <int size, int lanes, int n>
static inline void filterStrip(const float *w, float bias, const float *const *rows, int lane, int x, float *out, vec lo, vec hi) {
  vec sum[n];
#pragma GCC unroll 5
  for (int v = 0; v < size; v++) { // rows of the filter by themselves, so that none waits for another
    vec s[n];
    for (int j = 0; j < n; j++) s[j] = all(v == 0 ? bias : 0);
#pragma GCC unroll 5
    for (int u = 0; u < size; u++) {
      const vec a = all(w[v * size + u]);
      const float *q = rows[v] + u % lanes * lane + u / lanes + x;
      for (int j = 0; j < n; j++) s[j] += a * load(q + 8 * j);
    }
    for (int j = 0; j < n; j++) sum[j] = v == 0 ? s[j] : sum[j] + s[j];
  }
  for (int j = 0; j < n; j++) store(out + x + 8 * j, bound(sum[j], lo, hi));
}

// filter gives a row of a channel filtered by itself: rows are the size input rows under it, each as lanes rows of every lanes-th
// value (lanes is the step from output to output), lane values apart. As many columns as make whole vectors are read and written.
template <int size, int lanes>
static void filterRow(const float *w, float bias, const float *const *rows, int lane, int columns, float *out, float low, float high) {
  const vec lo = all(low), hi = all(high);
  int x = 0;
  for (; columns - x > 16; x += strip) filterStrip<size, lanes, 3>(w, bias, rows, lane, x, out, lo, hi);
  if (columns - x > 8) filterStrip<size, lanes, 2>(w, bias, rows, lane, x, out, lo, hi);
  else if (columns > x) filterStrip<size, lanes, 1>(w, bias, rows, lane, x, out, lo, hi);
}

static void filter(int size, int lanes, const float *w, float bias, const float *const *rows, int lane, int columns, float *out, float low, float high) {
  if (size == 3 && lanes == 1) filterRow<3, 1>(w, bias, rows, lane, columns, out, low, high);
  else if (size == 3) filterRow<3, 2>(w, bias, rows, lane, columns, out, low, high);
  else if (lanes == 1) filterRow<5, 1>(w, bias, rows, lane, columns, out, low, high);
  else filterRow<5, 2>(w, bias, rows, lane, columns, out, low, high);
}
