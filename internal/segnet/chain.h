// A chain of convolutions as one layer of OpenCV's dnn module.
#ifndef PT_SEGNET_CHAIN_H
#define PT_SEGNET_CHAIN_H

#include "kernels.h"

#include <opencv2/dnn.hpp>

#include <vector>

// Stage is a convolution with what follows it: bounds, then a picture that is added.
struct Stage {
  int outputs, inputs, size, step, pad;
  bool own; // each channel is filtered by itself
  float low, high;
  int added;    // which of the layer's pictures is added; 0: none
  bool doubled; // it is added at twice its size
  std::vector<float> weights, bias;

  // read takes in a convolution of the network; false where it is of a kind that chain.cpp does not know.
  bool read(const cv::dnn::LayerParams &p);
  bool bounded() const;
  int out(int n) const { return (n + 2 * pad - size) / step + 1; }
  int terms() const { return inputs * size * size; }

private:
  void arrange(const float *w, const float *b);
};

// Channels that are filtered by themselves are made, filtered and mixed so many at a time. After one such filter there may be others of so
// many channels at most.
constexpr int groupChannels = 32;

// Chain runs its stages a part of the picture at a time, so that what lies between them stays in the near caches and is never there as
// a whole. Every sum is taken in the order of the network's definition: input by input, row by row.
class Chain : public cv::dnn::Layer {
public:
  std::vector<Stage> stages;

  explicit Chain(const Stage &s);
  // canTake says whether another stage can follow.
  bool canTake(const Stage &next) const;
  typedef std::vector<cv::dnn::MatShape> Shapes;
  bool getMemoryShapes(const Shapes &in, const int, Shapes &out, Shapes &internals) const CV_OVERRIDE;
  void forward(cv::InputArrayOfArrays ins, cv::OutputArrayOfArrays outs, cv::OutputArrayOfArrays internals) CV_OVERRIDE;

private:
  const Kernels &kernels;
};

#endif
