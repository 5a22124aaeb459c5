#ifndef PT_SEGNET_CONV_H
#define PT_SEGNET_CONV_H

#ifdef __cplusplus
extern "C" {
#endif

// pt_segnet_convolutions makes OpenCV's dnn module run convolutions as conv.cpp does, where that knows the shape. To be called once.
void pt_segnet_convolutions(void);

// pt_segnet_any_processor makes networks that are loaded from now on use the code for any processor, or the fastest there is.
void pt_segnet_any_processor(int yes);

#ifdef __cplusplus
}
#endif

#endif
