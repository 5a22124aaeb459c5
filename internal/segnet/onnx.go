package segnet

import (
	"encoding/binary"
	"fmt"
	"math"
	"slices"
)

// graph is what is needed of an ONNX file: its nodes in the order of their work, and the tensors that it brings along.
type graph struct {
	nodes  []node
	tensor map[string]tensor
	input  string // the first that is no tensor
	output string
}

// node is one operation. Of its attributes those are kept that are whole numbers, fractions or words.
type node struct {
	op     string
	inputs []string
	output string
	whole  map[string][]int64
	real   map[string]float32
	text   map[string]string
}

type tensor struct {
	dims []int64
	v    []float32
}

// field is a field of a message in the protocol buffers' encoding: a number, or bytes.
type field struct {
	number int
	value  uint64
	bytes  []byte
}

// The kinds of values in that encoding (https://protobuf.dev/programming-guides/encoding/).
const (
	wireVarint = 0
	wireFixed8 = 1
	wireBytes  = 2
	wireFixed4 = 5
)

// fields goes through the fields of a message; false where it is damaged, or each says so.
func fields(msg []byte, each func(field) bool) bool {
	for len(msg) > 0 {
		key, n := binary.Uvarint(msg)
		if n <= 0 {
			return false
		}
		msg = msg[n:]
		f := field{number: int(key >> 3)}
		switch key & 7 {
		case wireVarint:
			if f.value, n = binary.Uvarint(msg); n <= 0 {
				return false
			}
		case wireFixed8:
			if n = 8; len(msg) < n {
				return false
			}
			f.value = binary.LittleEndian.Uint64(msg)
		case wireFixed4:
			if n = 4; len(msg) < n {
				return false
			}
			f.value = uint64(binary.LittleEndian.Uint32(msg))
		case wireBytes:
			length, k := binary.Uvarint(msg)
			if k <= 0 || length > uint64(len(msg)-k) {
				return false
			}
			n = k + int(length)
			f.bytes = msg[k:n]
		default:
			return false
		}
		msg = msg[n:]
		if !each(f) {
			return false
		}
	}
	return true
}

// The numbers of the fields in https://github.com/onnx/onnx/blob/v1.14.0/onnx/onnx.proto.
const (
	modelGraph                                                  = 7
	graphNode, graphTensor, graphInput, graphOutput             = 1, 5, 11, 12
	valueName                                                   = 1
	nodeInput, nodeOutput, nodeOp, nodeAttribute                = 1, 2, 4, 5
	attributeF, attributeI, attributeS, attributeInts           = 2, 3, 4, 8
	tensorDims, tensorType, tensorFloats, tensorName, tensorRaw = 1, 2, 4, 8, 9
	typeFloat                                                   = 1
)

func readGraph(onnx []byte) (g graph, err error) {
	g.tensor = map[string]tensor{}
	ok := fields(onnx, func(f field) bool {
		return f.number != modelGraph || fields(f.bytes, g.take)
	})
	if !ok || len(g.nodes) == 0 || g.output == "" {
		return graph{}, fmt.Errorf("%w: not a graph", ErrModel)
	}
	return g, nil
}

// take takes in a field of the graph.
func (g *graph) take(f field) bool {
	switch f.number {
	case graphNode:
		n := node{whole: map[string][]int64{}, real: map[string]float32{}, text: map[string]string{}}
		g.nodes = append(g.nodes, n)
		return fields(f.bytes, g.nodes[len(g.nodes)-1].take)
	case graphTensor:
		return g.takeTensor(f.bytes)
	case graphInput:
		if name := nameOf(f.bytes); g.input == "" && g.tensor[name].dims == nil {
			g.input = name
		}
	case graphOutput:
		g.output = nameOf(f.bytes)
	}
	return true
}

func nameOf(msg []byte) (name string) {
	fields(msg, func(f field) bool {
		if f.number == valueName {
			name = string(f.bytes)
		}
		return true
	})
	return name
}

func (n *node) take(f field) bool {
	switch f.number {
	case nodeInput:
		n.inputs = append(n.inputs, string(f.bytes))
	case nodeOutput:
		n.output = string(f.bytes)
	case nodeOp:
		n.op = string(f.bytes)
	case nodeAttribute:
		return n.takeAttribute(f.bytes)
	}
	return true
}

func (n *node) takeAttribute(msg []byte) bool {
	name := nameOf(msg)
	return fields(msg, func(f field) bool {
		switch f.number {
		case attributeF:
			n.real[name] = math.Float32frombits(uint32(f.value))
		case attributeI:
			n.whole[name] = []int64{int64(f.value)}
		case attributeS:
			n.text[name] = string(f.bytes)
		case attributeInts:
			return numbers(f, func(v uint64) { n.whole[name] = append(n.whole[name], int64(v)) })
		}
		return true
	})
}

// numbers are those of a repeated field: one, or many packed together.
func numbers(f field, each func(v uint64)) bool {
	if f.bytes == nil {
		each(f.value)
		return true
	}
	for b := f.bytes; len(b) > 0; {
		v, n := binary.Uvarint(b)
		if n <= 0 {
			return false
		}
		each(v)
		b = b[n:]
	}
	return true
}

func (g *graph) takeTensor(msg []byte) bool {
	var t tensor
	var name string
	var raw []byte
	float := false
	ok := fields(msg, func(f field) bool {
		switch f.number {
		case tensorDims:
			return numbers(f, func(v uint64) { t.dims = append(t.dims, int64(v)) })
		case tensorType:
			float = f.value == typeFloat
		case tensorName:
			name = string(f.bytes)
		case tensorRaw, tensorFloats:
			raw = f.bytes
		}
		return true
	})
	if !ok || len(raw)%4 != 0 {
		return false
	}
	if float {
		t.v = make([]float32, len(raw)/4)
		for i := range t.v {
			t.v[i] = math.Float32frombits(binary.LittleEndian.Uint32(raw[4*i:]))
		}
	}
	g.tensor[name] = t
	return true
}

// ints are an attribute's whole numbers; otherwise where the node does not have it.
func (n *node) ints(name string, otherwise ...int64) []int64 {
	if v := n.whole[name]; v != nil {
		return v
	}
	return otherwise
}

// same is the number that an attribute is made of throughout; false where its numbers differ.
func (n *node) same(name string, otherwise int64) (int, bool) {
	v := n.ints(name, otherwise)
	return int(v[0]), !slices.ContainsFunc(v, func(x int64) bool { return x != v[0] })
}
