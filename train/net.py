"""The small separable encoder-decoder that both trainings use, and its writing as an ONNX file that OpenCV 4.6 reads.

The encoder's blocks are inverted residuals (Sandler et al. 2018) in the arrangement of EfficientNet-Lite0 (Tan & Le 2019; the
Lite variants leave out squeeze-and-excite and use ReLU6), so that its published weights (Apache-2.0) can start it. The decoder adds
the encoder's stages again, coarse to fine, with separable convolutions, and a thin branch brings the finest detail past
the encoder. The head's channels are logits at the picture's size, then, where asked for, corrections of class 1 at twice that size.
"""
import torch
from torch import nn


class Conv(nn.Module):
    """Convolution, batch normalisation and, unless linear, ReLU6; written as one convolution with bias."""

    def __init__(self, cin, cout, k=1, stride=1, groups=1, act=True):
        super().__init__()
        self.conv = nn.Conv2d(cin, cout, k, stride, k // 2, groups=groups, bias=False)
        self.bn = nn.BatchNorm2d(cout, eps=1e-3, momentum=0.01)
        self.act = act

    def forward(self, x):
        x = self.bn(self.conv(x))
        return nn.functional.relu6(x) if self.act else x


class Block(nn.Module):
    """Inverted residual: widen, filter each channel by itself, narrow."""

    def __init__(self, cin, cout, k, stride, expand):
        super().__init__()
        mid = cin * expand
        self.expand = Conv(cin, mid) if expand > 1 else None
        self.depth = Conv(mid, mid, k, stride, groups=mid)
        self.narrow = Conv(mid, cout, act=False)
        self.add = stride == 1 and cin == cout

    def forward(self, x):
        y = self.depth(x if self.expand is None else self.expand(x))
        y = self.narrow(y)
        return x + y if self.add else y


class Separable(nn.Module):
    def __init__(self, cin, cout, k=3):
        super().__init__()
        self.depth = Conv(cin, cin, k, groups=cin, act=False)
        self.point = Conv(cin, cout)

    def forward(self, x):
        return self.point(self.depth(x))


# EfficientNet-Lite0's stages: channels, kernel, first stride, widening, blocks. The published net has 3 blocks in the
# stages of 80 and 112 channels and 4 in that of 192.
LITE0 = [(16, 3, 1, 1, 1), (24, 3, 2, 6, 2), (40, 5, 2, 6, 2), (80, 3, 2, 6, 3), (112, 5, 1, 6, 3), (192, 5, 2, 6, 4)]


# EfficientNet-Lite2's: a tenth wider, a fifth deeper.
LITE2 = [(16, 3, 1, 1, 1), (24, 3, 2, 6, 3), (48, 5, 2, 6, 3), (88, 3, 2, 6, 4), (120, 5, 1, 6, 4), (208, 5, 2, 6, 5)]


# The same with filters of 3 x 3 throughout, and fewer blocks.
SLIM = [(16, 3, 1, 1, 1), (24, 3, 2, 6, 2), (40, 3, 2, 6, 2), (80, 3, 2, 6, 2), (112, 3, 1, 6, 2), (192, 3, 2, 6, 2)]


# Of the planes that hold the four fine pixels of each place, those by colour, then by pixel.
SPACE = [0, 3, 6, 9, 1, 4, 7, 10, 2, 5, 8, 11]


def at_fine_size(x):
    """Three planes of colour at the fine picture's size instead of twelve at half of it; the other planes repeated."""
    colours = nn.functional.pixel_shuffle(x[:, SPACE], 2)
    return torch.cat([colours, nn.functional.interpolate(x[:, len(SPACE):], scale_factor=2, mode="nearest")], 1)


class Net(nn.Module):
    """planes: input channels. classes: logits. fine: also four corrections of class 1 a pixel, for the picture at twice the size. whole: the encoder
    sees the fine picture itself, planes of it; then there is no thin branch (thin=0). Its answer is of the same size and kind."""

    def __init__(self, planes, classes, stages=LITE0, stem=32, blocks=None, fine=True, thin=8, decoder=(96, 64, 48, 32, 24, 16), whole=False):
        super().__init__()
        self.config = dict(planes=planes, classes=classes, stages=stages, stem=stem, blocks=blocks, fine=fine, thin=thin, decoder=decoder, whole=whole)
        if len([s for s in stages if s[2] == 2]) + 1 + (thin > 0) > len(decoder):
            raise ValueError("one width a step of the decoder is needed")
        self.stem = Conv(planes, stem, 3, 2)
        self.stages = nn.ModuleList()
        c = stem
        self.taps = []  # stages whose result the decoder uses: the last before each halving
        widths = []
        for i, (cout, k, s, e, n) in enumerate(stages):
            n = n if blocks is None else blocks[i]
            stage = nn.Sequential(*[Block(c if j == 0 else cout, cout, k, s if j == 0 else 1, e) for j in range(n)])
            self.stages.append(stage)
            if s == 2:
                self.taps.append(i - 1)
                widths.append(c)
            c = cout
        self.thin = nn.Sequential(Conv(planes, thin), Separable(thin, thin)) if thin else None
        widths = ([thin] if thin else []) + widths  # from fine to coarse
        d = list(decoder)[:len(widths) + 1]
        self.top = Conv(c, d[0])
        self.lateral = nn.ModuleList()
        self.mix = nn.ModuleList()
        self.smooth = nn.ModuleList()
        for i, w in enumerate(reversed(widths)):
            self.mix.append(Conv(d[i], d[i + 1], act=False))
            self.lateral.append(Conv(w, d[i + 1], act=False))
            self.smooth.append(Separable(d[i + 1], d[i + 1]))
        self.head = nn.Conv2d(d[len(widths)], classes + (4 if fine else 0), 1)

    def forward(self, x):
        if self.config["whole"]:
            x = at_fine_size(x)
        feats = [self.thin(x)] if self.thin else []
        y = self.stem(x)
        for i, s in enumerate(self.stages):
            y = s(y)
            if i in self.taps:
                feats.append(y)
        y = self.top(y)
        for mix, lateral, smooth, f in zip(self.mix, self.lateral, self.smooth, reversed(feats)):
            y = nn.functional.interpolate(mix(y), scale_factor=2, mode="nearest") + lateral(f)
            y = smooth(y)
        return self.head(y)


def start_from(net, state):
    """Takes over the weights of a trained net of the same kind: of wider filters the middle, of more blocks the first."""
    own = net.state_dict()
    for name, w in own.items():
        if name not in state:
            raise KeyError(name)
        v = state[name]
        if v.shape != w.shape:
            cut = [(a - b) // 2 for a, b in zip(v.shape, w.shape)]
            if len(cut) != 4 or cut[0] or cut[1]:
                raise ValueError(f"{name}: {tuple(v.shape)} does not fit {tuple(w.shape)}")
            v = v[:, :, cut[2]:cut[2] + w.shape[2], cut[3]:cut[3] + w.shape[3]]
        w.copy_(v)


def load_lite(net, path):
    """Starts the encoder with the published weights of EfficientNet-Lite0 or Lite2 as far as blocks agree. Where the first convolution sees four
    pixels a colour where the published one sees one, each gets a quarter of its weight."""
    sd = torch.load(path, map_location="cpu", weights_only=False)

    def conv(m, w, bn):
        m.conv.weight.data.copy_(sd[w + ".weight"])
        m.bn.weight.data.copy_(sd[bn + ".weight"])
        m.bn.bias.data.copy_(sd[bn + ".bias"])
        m.bn.running_mean.copy_(sd[bn + ".running_mean"])
        m.bn.running_var.copy_(sd[bn + ".running_var"])

    w = sd["_conv_stem.weight"]
    pixels = 1 if net.config["whole"] else 4
    net.stem.conv.weight.data[:, 3 * pixels:] *= 0.1
    for k in range(pixels):
        net.stem.conv.weight.data[:, 3 * k:3 * k + 3] = w / pixels
    for a in ("weight", "bias"):
        getattr(net.stem.bn, a).data.copy_(sd["_bn0." + a])
    net.stem.bn.running_mean.copy_(sd["_bn0.running_mean"])
    net.stem.bn.running_var.copy_(sd["_bn0.running_var"])
    first = 0
    for stage, spec in zip(net.stages, net.config["stages"]):
        for j, block in enumerate(stage):
            name = f"_blocks.{first + j}."
            if block.expand is not None:
                conv(block.expand, name + "_expand_conv", name + "_bn0")
            conv(block.depth, name + "_depthwise_conv", name + "_bn1")
            conv(block.narrow, name + "_project_conv", name + "_bn2")
        first += spec[4]


class Graph:
    """Writes the nodes of an ONNX graph of opset 10, whose Clip has its limits as attributes."""

    def __init__(self):
        self.nodes, self.weights, self.n = [], [], 0
        self.convs = []  # in the order of their nodes

    def name(self):
        self.n += 1
        return f"t{self.n}"

    def add(self, op, inputs, **attrs):
        from onnx import helper
        out = self.name()
        self.nodes.append(helper.make_node(op, inputs, [out], name="n" + out, **attrs))
        return out

    def const(self, t):
        from onnx import numpy_helper
        name = "w" + self.name()
        t = t.detach().cpu().float()
        if t.numel() > 8:  # no more digits than half precision has, so that the file packs to half its size; OpenCV 4.6 reads single precision only
            t = t.half().float()
        self.weights.append(numpy_helper.from_array(t.numpy(), name))
        return name

    def conv(self, x, m, weight, bias):
        p, s = m.padding[0], m.stride[0]
        self.convs.append(m)
        return self.add("Conv", [x, self.const(weight), self.const(bias)], kernel_shape=list(m.kernel_size), pads=[p] * 4,
                        strides=[s, s], group=m.groups)

    def module(self, m, x):
        if isinstance(m, Conv):
            scale = m.bn.weight / torch.sqrt(m.bn.running_var + m.bn.eps)
            y = self.conv(x, m.conv, m.conv.weight * scale[:, None, None, None], m.bn.bias - m.bn.running_mean * scale)
            return self.add("Clip", [y], min=0.0, max=6.0) if m.act else y
        if isinstance(m, Block):
            y = x if m.expand is None else self.module(m.expand, x)
            y = self.module(m.narrow, self.module(m.depth, y))
            return self.add("Add", [x, y]) if m.add else y
        if isinstance(m, Separable):
            return self.module(m.point, self.module(m.depth, x))
        if isinstance(m, nn.Sequential):
            for s in m:
                x = self.module(s, x)
            return x
        raise TypeError(type(m))

    def double(self, x):
        return self.add("Upsample", [x, self.const(torch.tensor([1.0, 1.0, 2.0, 2.0]))], mode="nearest")


def graph_of(net):
    """The net's graph with batch normalisation folded into the convolutions, the name of its input and that of its output, the logits."""
    net = net.eval()
    g = Graph()
    x = "planes"
    feats = [g.module(net.thin, x)] if net.thin else []
    y = g.module(net.stem, x)
    for i, s in enumerate(net.stages):
        y = g.module(s, y)
        if i in net.taps:
            feats.append(y)
    y = g.module(net.top, y)
    for mix, lateral, smooth, f in zip(net.mix, net.lateral, net.smooth, reversed(feats)):
        y = g.add("Add", [g.double(g.module(mix, y)), g.module(lateral, f)])
        y = g.module(smooth, y)
    return g, x, g.conv(y, net.head, net.head.weight, net.head.bias)


def load_onnx(net, path):
    """Starts from a written file, packed or not, of a net of the same kind: each convolution has its batch normalisation within. settle() takes that apart."""
    import subprocess
    import onnx
    from onnx import numpy_helper
    data = subprocess.run(["zstd", "-dc", path], check=True, capture_output=True).stdout if path.endswith(".zst") else open(path, "rb").read()
    graph = onnx.load_model_from_string(data).graph
    values = {t.name: torch.from_numpy(numpy_helper.to_array(t).copy()) for t in graph.initializer}
    convs = graph_of(net)[0].convs
    written = [n.input for n in graph.node if n.op_type == "Conv"]
    if len(written) != len(convs):
        raise ValueError(f"{path}: {len(written)} convolutions, {len(convs)} wanted")
    owner = {m.conv: m for m in net.modules() if isinstance(m, Conv)}
    with torch.no_grad():
        for conv, (_, w, b) in zip(convs, written):
            conv.weight.copy_(values[w])
            if conv in owner:
                bn = owner[conv].bn
                bn.weight.fill_(1)
                bn.bias.copy_(values[b])
                bn.running_mean.zero_()
                bn.running_var.fill_(1 - bn.eps)
            else:
                conv.bias.copy_(values[b])


@torch.no_grad()
def settle(net, batches):
    """Gives each batch normalisation the mean and variance that it meets, without changing what the net answers: so that it can be trained on."""
    sums = {}

    def meet(bn, inputs):
        x = inputs[0].double()
        n, a, b = sums.get(bn, (0, 0, 0))
        sums[bn] = n + x.numel() // x.shape[1], a + x.sum((0, 2, 3)), b + (x * x).sum((0, 2, 3))

    net.eval()
    hooks = [m.bn.register_forward_pre_hook(meet) for m in net.modules() if isinstance(m, Conv)]
    for x in batches:
        net(x)
    for h in hooks:
        h.remove()
    for bn, (n, a, b) in sums.items():
        mean, var = a / n, (b / n - (a / n) ** 2).clamp_min(0)
        old = bn.weight / torch.sqrt(bn.running_var + bn.eps)
        bn.bias.add_((old * (mean - bn.running_mean)).float())
        bn.weight.copy_(old * torch.sqrt(var + bn.eps))
        bn.running_mean.copy_(mean)
        bn.running_var.copy_(var)
    net.train()


def write_onnx(net, height, width, path):
    """The net with batch normalisation folded into the convolutions, for a picture of one size. Output: the logits."""
    import onnx
    from onnx import helper, TensorProto
    g, x, y = graph_of(net)
    out, zoom = net.head.out_channels, 2 if net.config["whole"] else 1
    graph = helper.make_graph(g.nodes, "regions", [helper.make_tensor_value_info(x, TensorProto.FLOAT, [1, net.config["planes"], zoom * height, zoom * width])],
                              [helper.make_tensor_value_info(y, TensorProto.FLOAT, [1, out, height, width])], g.weights)
    model = helper.make_model(graph, opset_imports=[helper.make_opsetid("", 9)], producer_name="train/net.py")
    model.ir_version = 5
    onnx.save(model, path)
