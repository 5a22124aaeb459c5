#include "detail.h"

#include <string.h>

// level is one size of the picture, of which three rows are kept.
typedef struct {
  size_t w, h, rows;   // of this size; rows seen
  uint8_t *row[3];     // row y in row[y % 3]
  uint16_t *most;      // the strongest of each column since the last row of places was finished
  size_t places, lines, at;
  uint16_t *out;
} level;

// finish brings the strongest of the columns together by place.
static void finish(level *l) {
  uint16_t *out = l->out + l->at * l->places;
  size_t x = 1;
  for (size_t c = 0; c < l->places; c++) {
    const size_t end = ((c + 1) * l->w + l->places - 1) / l->places; // the first column of the next place
    uint16_t most = 0;
    for (; x < end && x + 1 < l->w; x++) most = l->most[x] > most ? l->most[x] : most;
    out[c] = most;
  }
  memset(l->most, 0, l->w * sizeof(uint16_t));
}

// take takes in the row that lies in its place: the row above it has then all its neighbours.
static void take(level *l) {
  const size_t y = l->rows++;
  if (y < 2 || l->w < 3) return;
  const size_t to = (y - 1) * l->lines / l->h;
  if (to != l->at) {
    finish(l);
    l->at = to;
  }
  const uint8_t *up = l->row[(y - 2) % 3], *mid = l->row[(y - 1) % 3], *down = l->row[y % 3];
  uint16_t *restrict most = l->most;
  for (size_t x = 1; x + 1 < l->w; x++) {
    const int16_t d = (int16_t)(4 * mid[x] - mid[x - 1] - mid[x + 1] - up[x] - down[x]);
    const int16_t s = d < 0 ? (int16_t)-d : d, m = (int16_t)most[x];
    most[x] = (uint16_t)(s > m ? s : m);
  }
}

static uint8_t *level_room(level *l, size_t w, size_t h, size_t places, size_t lines, uint16_t *out, uint8_t *room) {
  *l = (level){.w = w, .h = h, .places = places, .lines = lines, .out = out};
  l->most = (uint16_t *)room;
  room += w * sizeof(uint16_t);
  memset(l->most, 0, w * sizeof(uint16_t));
  for (int i = 0; i < 3; i++, room += w + w % 2) l->row[i] = room;
  return room;
}

size_t pt_regions_detail_room(size_t photo_w, size_t k) {
  const size_t w = photo_w / k;
  return 8 * (w + 2) + 8 * (w / 2 + 2) + 3 * photo_w * sizeof(uint32_t);
}

// green writes row y of the picture reduced k times.
static void green(const uint8_t *bgr, size_t photo_w, size_t k, size_t w, size_t y, uint32_t *sum, uint8_t *restrict out) {
  const uint8_t *row = bgr + 3 * photo_w * k * y;
  if (k == 1) {
    for (size_t x = 0; x < w; x++) out[x] = row[3 * x + 1];
    return;
  }
  if (k <= 16) { // sums of sixteen bytes and their multiples by sixteen stay below 65536
    uint16_t *restrict s = (uint16_t *)sum;
    const size_t n = 3 * w * k;
    for (size_t i = 0; i < n; i++) s[i] = (uint16_t)(row[i] + row[i + 3 * photo_w]);
    for (size_t j = 2; j < k; j++) {
      const uint8_t *r = row + 3 * photo_w * j;
      for (size_t i = 0; i < n; i++) s[i] = (uint16_t)(s[i] + r[i]);
    }
    if (k == 2) {
      for (size_t x = 0; x < w; x++) out[x] = (uint8_t)((s[6 * x + 1] + s[6 * x + 4]) / 4);
      return;
    }
    for (size_t x = 0; x < w; x++) {
      uint32_t t = 0;
      for (size_t i = 0; i < k; i++) t += s[3 * (k * x + i) + 1];
      out[x] = (uint8_t)(t / (k * k));
    }
    return;
  }
  memset(sum, 0, w * sizeof(uint32_t));
  for (size_t j = 0; j < k; j++) {
    const uint8_t *r = row + 3 * photo_w * j + 1;
    for (size_t x = 0; x < w; x++)
      for (size_t i = 0; i < k; i++, r += 3) sum[x] += *r;
  }
  for (size_t x = 0; x < w; x++) out[x] = (uint8_t)(sum[x] / (uint32_t)(k * k));
}

void pt_regions_detail(const uint8_t *bgr, size_t photo_w, size_t photo_h, size_t k, size_t w, size_t h, uint16_t *fine, uint16_t *coarse, uint8_t *room) {
  const size_t gw = photo_w / k, gh = photo_h / k;
  level a, b;
  uint32_t *sum = (uint32_t *)room;
  room += 3 * photo_w * sizeof(uint32_t);
  room = level_room(&a, gw, gh, w, h, fine, room);
  level_room(&b, gw / 2, gh / 2, w, h, coarse, room);
  for (size_t y = 0; y < gh; y++) {
    uint8_t *row = a.row[y % 3];
    green(bgr, photo_w, k, gw, y, sum, row);
    take(&a);
    if (y % 2 == 0) continue;
    const uint8_t *up = a.row[(y - 1) % 3];
    uint8_t *restrict half = b.row[(y / 2) % 3];
    for (size_t x = 0; x < b.w; x++) half[x] = (uint8_t)((up[2 * x] + up[2 * x + 1] + row[2 * x] + row[2 * x + 1] + 2) / 4);
    take(&b);
  }
  if (a.w >= 3 && a.h >= 3) finish(&a);
  if (b.w >= 3 && b.h >= 3) finish(&b);
}
