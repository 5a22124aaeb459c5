#ifndef PT_SEGNET_H
#define PT_SEGNET_H

#ifdef __cplusplus
extern "C" {
#endif

// pt_segnet_register makes OpenCV's dnn module run convolutions as chain.cpp does, where that knows the shape. To be called once.
void pt_segnet_register(void);

// pt_segnet_merge puts together the convolutions of a network (a cv::dnn::Net) that was just read; where it has layers that merge.cpp
// does not know it stays as it is, and the answer is 0.
int pt_segnet_merge(void *net);

// pt_segnet_any_processor makes networks that are loaded from now on use the code for any processor, or the fastest there is.
void pt_segnet_any_processor(int yes);

#ifdef __cplusplus
}
#endif

#endif
