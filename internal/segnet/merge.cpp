// Gives OpenCV's dnn module our convolutions, and puts those of a network together to chains (chain.h).
#include "chain.h"

#include "segnet.h"

#include <opencv2/dnn/all_layers.hpp>
#include <opencv2/dnn/layer.details.hpp>

#include <algorithm>

namespace {

typedef cv::Ptr<cv::dnn::Layer> LayerPtr;

// What a layer's parameters say is known when it is made only: sums and doublings that chains can take in are told by these types.
const char *const sumType = "sum of two", *const doubleType = "nearest, doubled";

LayerPtr convolution(cv::dnn::LayerParams &p) {
  Stage s;
  if (s.read(p)) return cv::makePtr<Chain>(s);
  return cv::dnn::ConvolutionLayer::create(p);
}

LayerPtr sum(cv::dnn::LayerParams &p) {
  LayerPtr l = cv::dnn::EltwiseLayer::create(p);
  if (p.get<cv::String>("operation", "sum") == "sum" && !p.has("coeff") && !p.has("output_channels_mode")) l->type = sumType;
  return l;
}

LayerPtr resize(cv::dnn::LayerParams &p) {
  LayerPtr l = cv::dnn::ResizeLayer::create(p);
  const bool twice = p.get<double>("zoom_factor_x", 0) == 2 && p.get<double>("zoom_factor_y", 0) == 2;
  if (twice && p.get<cv::String>("interpolation", "") == "nearest") l->type = doubleType;
  return l;
}

// A layer that is there already becomes one of another network by being what this type's maker gives.
const char *const readyType = "PhototrackReady";
thread_local LayerPtr ready;
LayerPtr readyMade(cv::dnn::LayerParams &) { return ready; }

// Node is a layer of the network that was read; the first is what the network is given.
struct Node {
  LayerPtr layer;
  std::vector<int> inputs, users;
  bool inner; // it has been taken into a chain of which it is not the last
  bool grown; // it is the last of a chain
};

class Graph {
public:
  explicit Graph(cv::dnn::Net &net) : nodes(1) {
    nodes[0].layer = net.getLayer(0);
    for (const cv::String &name : net.getLayerNames()) {
      const int id = net.getLayerId(name), n = (int)nodes.size();
      Node node = {net.getLayer(id), {}, {}, false, false};
      for (const LayerPtr &l : net.getLayerInputs(id)) {
        const auto same = [&](const Node &m) { return m.layer == l; };
        const int i = (int)(std::find_if(nodes.begin(), nodes.end(), same) - nodes.begin());
        CV_Assert(i < n);
        node.inputs.push_back(i);
        nodes[i].users.push_back(n);
      }
      nodes.push_back(node);
    }
  }

  // known says that every layer has one output, the one that the next reads.
  bool known() const {
    return std::all_of(nodes.begin() + 1, nodes.end(), [](const Node &n) {
      const cv::String &type = n.layer->type;
      return n.layer.dynamicCast<Chain>() || n.layer.dynamicCast<cv::dnn::ReLU6Layer>() || type == sumType || type == doubleType || type == "Identity";
    });
  }

  cv::dnn::Net merged() {
    for (int i = 1; i < (int)nodes.size(); i++)
      if (!nodes[i].inner && !nodes[i].grown && nodes[i].layer.dynamicCast<Chain>()) grow(i);
    cv::dnn::Net net;
    std::vector<int> ids(nodes.size(), 0);
    for (int i = 1; i < (int)nodes.size(); i++) {
      if (nodes[i].inner) continue;
      cv::dnn::LayerParams p;
      ready = nodes[i].layer;
      ids[i] = net.addLayer(cv::format("%d", i), readyType, p);
      net.getLayer(ids[i]); // is made when it is first asked for
      for (size_t k = 0; k < nodes[i].inputs.size(); k++) net.connect(ids[nodes[i].inputs[k]], 0, ids[i], (int)k);
    }
    ready.release();
    return net;
  }

private:
  std::vector<Node> nodes;

  // Growth is a chain under way.
  struct Growth {
    cv::Ptr<Chain> chain;
    std::vector<int> inputs;
    int last;
    bool whole; // nothing more is to follow
  };

  // grow takes what follows a convolution into its chain for as long as nothing else reads what the chain has made. The chain then stands
  // where its last layer stood.
  void grow(int first) {
    Growth g = {nodes[first].layer.dynamicCast<Chain>(), nodes[first].inputs, first, false};
    while (!g.whole && nodes[g.last].users.size() == 1) {
      const int next = nodes[g.last].users[0];
      if (nodes[next].inner || nodes[next].grown || !take(g, nodes[next])) break;
      nodes[g.last].inner = true;
      g.last = next;
    }
    nodes[g.last].layer = g.chain;
    nodes[g.last].inputs = g.inputs;
    nodes[g.last].grown = true;
  }

  // take takes a layer into a chain; false where it cannot be.
  bool take(Growth &g, const Node &next) {
    Stage &s = g.chain->stages.back();
    if (cv::Ptr<Chain> c = next.layer.dynamicCast<Chain>()) {
      if (!g.chain->canTake(c->stages[0])) return false;
      g.chain->stages.push_back(c->stages[0]);
      return true;
    }
    if (cv::Ptr<cv::dnn::ReLU6Layer> r = next.layer.dynamicCast<cv::dnn::ReLU6Layer>()) {
      if (s.added || s.bounded()) return false;
      s.low = r->minValue, s.high = r->maxValue;
      return true;
    }
    return next.layer->type == sumType && next.inputs.size() == 2 && !s.added && takeSum(g, next);
  }

  bool takeSum(Growth &g, const Node &sum) {
    Stage &s = g.chain->stages.back();
    int other = sum.inputs[sum.inputs[0] == g.last];
    if (other == g.last) return false;
    s.doubled = nodes[other].layer->type == doubleType && nodes[other].users.size() == 1;
    if (s.doubled) {
      nodes[other].inner = true;
      other = nodes[other].inputs[0];
    }
    s.added = (int)g.inputs.size();
    g.inputs.push_back(other);
    g.whole = !s.doubled; // a block ends with its sum
    return true;
  }
};

} // namespace

void pt_segnet_register(void) {
  cv::dnn::LayerFactory::registerLayer("Convolution", convolution);
  cv::dnn::LayerFactory::registerLayer("Eltwise", sum);
  cv::dnn::LayerFactory::registerLayer("Resize", resize);
  cv::dnn::LayerFactory::registerLayer(readyType, readyMade);
}

int pt_segnet_merge(void *net) {
  cv::dnn::Net &n = *static_cast<cv::dnn::Net *>(net);
  try {
    Graph g(n);
    if (!g.known()) return 0;
    n = g.merged();
    return 1;
  } catch (const std::exception &) {
    return 0;
  }
}
