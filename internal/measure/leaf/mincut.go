package leaf

// cutGraph is a graph of few nodes with capacities, for the least cut between a source (node 0) and a sink (node 1) by
// Dinic's algorithm. A region's label that costs least over all, each region's own evidence against what it costs to part
// neighbours, is such a cut (Greig, Porteous & Seheult 1989).
type cutGraph struct {
	to   []int32
	left []float64 // capacity left
	head [][]int32 // edges of each node; edge e runs back along e^1
}

func newCutGraph(nodes int) *cutGraph { return &cutGraph{head: make([][]int32, nodes)} }

// add joins a and b with capacities ab and ba.
func (g *cutGraph) add(a, b int32, ab, ba float64) {
	e := int32(len(g.to))
	g.to = append(g.to, b, a)
	g.left = append(g.left, ab, ba)
	g.head[a] = append(g.head[a], e)
	g.head[b] = append(g.head[b], e+1)
}

const tinyCapacity = 1e-9

// cut saturates the graph and says which nodes hang on the source.
func (g *cutGraph) cut() []bool {
	n := len(g.head)
	level, next := make([]int32, n), make([]int, n)
	var push func(v int32, f float64) float64
	push = func(v int32, f float64) float64 {
		if v == 1 {
			return f
		}
		for ; next[v] < len(g.head[v]); next[v]++ {
			e := g.head[v][next[v]]
			u := g.to[e]
			if g.left[e] > tinyCapacity && level[u] == level[v]+1 {
				if d := push(u, min(f, g.left[e])); d > tinyCapacity {
					g.left[e] -= d
					g.left[e^1] += d
					return d
				}
			}
		}
		return 0
	}
	for g.levels(level) {
		clear(next)
		for push(0, 1e18) > tinyCapacity {
		}
	}
	side := make([]bool, n)
	for v := range side {
		side[v] = level[v] >= 0
	}
	return side
}

// levels numbers the nodes by their distance from the source, -1 where there is no way; true if the sink is reached.
func (g *cutGraph) levels(level []int32) bool {
	for i := range level {
		level[i] = -1
	}
	level[0] = 0
	queue := []int32{0}
	for len(queue) > 0 {
		v := queue[0]
		queue = queue[1:]
		for _, e := range g.head[v] {
			if u := g.to[e]; level[u] < 0 && g.left[e] > tinyCapacity {
				level[u] = level[v] + 1
				queue = append(queue, u)
			}
		}
	}
	return level[1] >= 0
}
