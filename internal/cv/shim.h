// A thin C face on the few OpenCV calls that gocv lacks or cannot make safely: every C++ exception is caught here.
#ifndef PHOTOTRACK_CV_SHIM_H
#define PHOTOTRACK_CV_SHIM_H
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

typedef struct {
  int id;
  float corners[8]; // x, y of top left, top right, bottom right, bottom left as printed
} pt_marker;

// All return 0 on success; otherwise a code, with a text in err (at most errn bytes, terminated).
int pt_decode(const uint8_t *data, size_t n, int flags, void **mat, int *w, int *h, char *err, size_t errn);
void pt_mat_copy_free(void *mat, uint8_t *out);
void pt_mat_free(void *mat);
int pt_detect_36h11(const uint8_t *gray, int w, int h, int soft, pt_marker *out, int max, int *found, char *err, size_t errn);
int pt_draw_36h11(int id, int cell_px, uint8_t *out, char *err, size_t errn);
void pt_set_threads(int n);

#ifdef __cplusplus
}
#endif
#endif
