package segnet

import (
	"fmt"
	"slices"
)

// conv is a convolution of the plan.
type conv struct {
	outputs, inputs, size, step, pad int
	own                              bool // each channel is filtered by itself
	low, high                        float32
	weights, bias                    []float32
}

// point says whether it mixes the channels of each place by itself.
func (c *conv) point() bool { return !c.own && c.size == 1 }

// planned is a step of the plan (see net.h): numbers of convolutions and of pictures, -1 where there is none.
type planned struct{ point, filter, mix, head, in, up, add, out int }

// plan is a network as the steps in which it is run.
type plan struct {
	convs []conv
	steps []planned
}

// operation is a node of the graph with the bounds that follow it: a convolution, a sum, or a picture doubled.
type operation struct {
	conv   int // of plan.convs, -1 where it is none
	double bool
	inputs []string
	output string
	done   bool // it belongs to a step
}

// planner makes a plan of a graph.
type planner struct {
	graph
	plan
	ops     []operation
	maker   map[string]int   // of a picture: the operation
	users   map[string][]int // of a picture: the operations
	picture map[string]int
	channel map[string]int // how many channels a picture has
}

// planOf puts a graph's convolutions together to steps. Errors: ErrModel for what is not a net of train/net.py's kind.
func planOf(g graph, planes int) (plan, error) {
	p := &planner{graph: g, maker: map[string]int{}, users: map[string][]int{}, picture: map[string]int{g.input: 0}, channel: map[string]int{g.input: planes}}
	for i := range g.nodes {
		if err := p.read(&g.nodes[i]); err != nil {
			return plan{}, err
		}
	}
	if !slices.ContainsFunc(p.ops, func(o operation) bool { return o.output == g.output }) {
		return plan{}, fmt.Errorf("%w: no node makes the answer", ErrModel)
	}
	if err := p.join(); err != nil {
		return plan{}, err
	}
	return p.plan, nil
}

// read makes an operation of a node.
func (p *planner) read(n *node) error {
	for _, in := range n.inputs {
		if _, known := p.channel[in]; !known && p.tensor[in].dims == nil {
			return fmt.Errorf("%w: node %s reads what is not there", ErrModel, n.output)
		}
	}
	o := operation{conv: -1, output: n.output, inputs: n.inputs}
	ok := true
	switch n.op {
	case "Conv":
		ok = p.readConv(n, &o)
	case "Clip":
		return p.readClip(n)
	case "Add":
		ok = len(n.inputs) == 2 && p.channel[n.inputs[0]] > 0 && p.channel[n.inputs[0]] == p.channel[n.inputs[1]]
		p.channel[o.output] = p.channel[n.inputs[0]]
	case "Upsample":
		ok = len(n.inputs) == 2 && n.text["mode"] == "nearest" && slices.Equal(p.tensor[n.inputs[1]].v, []float32{1, 1, 2, 2})
		o.inputs, o.double = n.inputs[:1], true
		p.channel[o.output] = p.channel[n.inputs[0]]
	default:
		ok = false
	}
	if !ok {
		return fmt.Errorf("%w: %s that is not known", ErrModel, n.op)
	}
	at := len(p.ops)
	p.ops = append(p.ops, o)
	p.maker[o.output] = at
	for _, in := range o.inputs {
		p.users[in] = append(p.users[in], at)
	}
	return nil
}

// readConv takes in a convolution; false where it is of a kind that net.cpp does not know.
func (p *planner) readConv(n *node, o *operation) bool {
	if len(n.inputs) < 2 || n.text["auto_pad"] != "" {
		return false
	}
	w := p.tensor[n.inputs[1]]
	if !w.filters() {
		return false
	}
	c := conv{outputs: int(w.dims[0]), size: int(w.dims[2]), low: minusInf, high: plusInf, weights: w.v}
	groups, _ := n.same("group", 1)
	c.inputs = int(w.dims[1]) * groups
	c.own = groups == c.inputs && groups == c.outputs && groups > 1
	c.bias = make([]float32, c.outputs)
	if len(n.inputs) > 2 && copy(c.bias, p.tensor[n.inputs[2]].v) != c.outputs || p.channel[n.inputs[0]] != c.inputs {
		return false
	}
	o.inputs, o.conv = n.inputs[:1], len(p.convs)
	p.channel[o.output] = c.outputs
	known := c.readSteps(n) && slices.Contains(sizes[c.own], c.size) && (c.own || groups == 1)
	p.convs = append(p.convs, c)
	return known
}

// sizes are the filters' sizes that net.cpp knows: over one channel (true), and over all of them.
var sizes = map[bool][]int{true: {3, 5}, false: {1, 3}}

// filters says whether a tensor is square filters: by output, input, row, column.
func (t *tensor) filters() bool {
	return len(t.v) > 0 && len(t.dims) == 4 && t.dims[2] == t.dims[3] && int64(len(t.v)) == t.dims[0]*t.dims[1]*t.dims[2]*t.dims[3]
}

// readSteps takes in how a convolution goes over the picture; false where net.cpp does not know that.
func (c *conv) readSteps(n *node) bool {
	step, evenly := n.same("strides", 1)
	pad, around := n.same("pads", 0)
	wide, dense := n.same("dilations", 1)
	c.step, c.pad = step, pad
	return evenly && around && dense && wide == 1 && step >= 1 && step <= min(2, c.size) && pad >= 0 && pad <= c.size/2
}

// readClip makes bounds those of the convolution that they follow.
func (p *planner) readClip(n *node) error {
	at, ok := p.maker[n.inputs[0]]
	if !ok || p.ops[at].conv < 0 || len(n.inputs) != 1 || len(p.users[n.inputs[0]]) > 0 {
		return fmt.Errorf("%w: bounds behind what is no convolution", ErrModel)
	}
	c := &p.convs[p.ops[at].conv]
	if v, ok := n.real["min"]; ok {
		c.low = v
	}
	if v, ok := n.real["max"]; ok {
		c.high = v
	}
	p.ops[at].output = n.output
	p.maker[n.output], p.channel[n.output] = at, c.outputs
	return nil
}

// join makes the steps: first those round a filter, each as long as can be, then of what is left.
func (p *planner) join() error {
	ends := map[int]planned{} // by the last of a step's operations
	for i := range p.ops {
		if o := &p.ops[i]; o.conv >= 0 && p.convs[o.conv].own {
			s, last := p.around(i)
			ends[last] = s
		}
	}
	for i := range p.ops {
		if o := &p.ops[i]; o.conv >= 0 && !o.done {
			o.done = true
			ends[i] = planned{point: o.conv, filter: -1, mix: -1, head: -1, in: p.number(o.inputs[0]), up: -1, add: -1, out: p.number(o.output)}
		}
	}
	for i := range p.ops {
		if s, ok := ends[i]; ok {
			p.steps = append(p.steps, s)
		}
		if !p.ops[i].done {
			return fmt.Errorf("%w: a sum or a doubling that stands by itself", ErrModel)
		}
	}
	if p.steps[len(p.steps)-1].out != p.number(p.output) {
		return fmt.Errorf("%w: more comes behind the answer", ErrModel)
	}
	return nil
}

// around is the longest step round a filter, and its last operation.
func (p *planner) around(at int) (s planned, last int) {
	o := p.take(at)
	s = planned{point: -1, filter: o.conv, mix: -1, head: -1, in: p.number(o.inputs[0]), up: -1, add: -1}
	p.before(o.inputs[0], &s)
	last = at
	if next := p.next(o.output); next >= 0 && p.isPoint(next) {
		o, last = p.take(next), next
		s.mix = o.conv
		if sum := p.next(o.output); sum >= 0 && p.ops[sum].conv < 0 && !p.ops[sum].double {
			s.add = p.number(p.other(sum, o.output))
			o, last = p.take(sum), sum
		}
		if next := p.next(o.output); next >= 0 && p.isPoint(next) && p.ops[next].output == p.output {
			o, last = p.take(next), next
			s.head = o.conv
		}
	}
	s.out = p.number(o.output)
	return s, last
}

// before takes what makes a filter's input into its step, where nothing else reads it.
func (p *planner) before(input string, s *planned) {
	at, made := p.maker[input]
	if !made || len(p.users[input]) > 1 {
		return
	}
	if p.isPoint(at) {
		o := p.take(at)
		s.point, s.in = o.conv, p.number(o.inputs[0])
		return
	}
	sum := p.ops[at]
	if sum.conv >= 0 || sum.double {
		return
	}
	a, b := p.only(sum.inputs[0]), p.only(sum.inputs[1])
	if a >= 0 && b >= 0 && p.isPoint(a) {
		a, b = b, a
	}
	if a < 0 || b < 0 || !p.ops[a].double || !p.isPoint(b) {
		return
	}
	p.take(at)
	s.up = p.number(p.take(a).inputs[0])
	o := p.take(b)
	s.point, s.in = o.conv, p.number(o.inputs[0])
}

// only is the operation that makes a picture that is read once; -1 where there is none.
func (p *planner) only(picture string) int {
	if at, ok := p.maker[picture]; ok && len(p.users[picture]) == 1 {
		return at
	}
	return -1
}

// next is the operation that reads a picture, where it is one alone; -1 otherwise.
func (p *planner) next(picture string) int {
	if u := p.users[picture]; len(u) == 1 {
		return u[0]
	}
	return -1
}

func (p *planner) isPoint(at int) bool {
	o := &p.ops[at]
	return o.conv >= 0 && !o.done && p.convs[o.conv].point()
}

// other is a sum's other term.
func (p *planner) other(sum int, term string) string {
	if in := p.ops[sum].inputs; in[0] != term {
		return in[0]
	}
	return p.ops[sum].inputs[1]
}

// take makes an operation part of a step.
func (p *planner) take(at int) *operation {
	p.ops[at].done = true
	return &p.ops[at]
}

// number is a picture's.
func (p *planner) number(name string) int {
	n, ok := p.picture[name]
	if !ok {
		n = len(p.picture)
		p.picture[name] = n
	}
	return n
}
