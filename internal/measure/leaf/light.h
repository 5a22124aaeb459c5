#ifndef PT_LEAF_LIGHT_H
#define PT_LEAF_LIGHT_H

#include <stddef.h>
#include <stdint.h>

// pt_leaf_light gives the corrected linear red, green and blue of n pixels (blue, green, red in the camera's values). tone holds 3 x 256
// values, mix 3 x 6, as Colour has them; root says whether its last three columns count.
void pt_leaf_light(const uint8_t *bgr, size_t n, const float *tone, const float *mix, int root, float *rgb);

// pt_leaf_light_square is the same with the sum of their squares behind them: four values a pixel.
void pt_leaf_light_square(const uint8_t *bgr, size_t n, const float *tone, const float *mix, int root, float *to);

// pt_leaf_correct puts corrected sRGB in the place of the camera's values; encoded holds the bytes for steps + 1 steps of the square root of light.
void pt_leaf_correct(uint8_t *bgr, size_t n, const float *tone, const float *mix, int root, const uint8_t *encoded, int steps);

#endif
