#ifndef PHOTOTRACK_ROOT_CLASSES_H
#define PHOTOTRACK_ROOT_CLASSES_H
#include <stddef.h>

// Probabilities of n pixels of every other column from their logits, which lie step values apart by class (as in regions.go): any is root of
// any kind, line, which may be null, what the network says of middle lines where there is root. Where the medium's logit stands above all
// others by sure, there is nothing else.
void pt_root_classes(const float *logits, size_t step, size_t n, float sure, float *any, float *tip, float *old, float *hidden, float *on_wall, float *line);
#endif
