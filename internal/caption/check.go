package caption

import (
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"text/template/parse"
)

// Field is one field of Words: its name as a template writes it, and what it holds.
type Field struct{ Name, Doc string }

// Fields lists what templates may name, in the order of Words.
func Fields() []Field {
	t := reflect.TypeFor[Words]()
	out := make([]Field, t.NumField())
	for i := range out {
		out[i] = Field{"." + t.Field(i).Name, t.Field(i).Tag.Get("doc")}
	}
	return out
}

// functions are those a template may call. Others can write any amount of text (printf) or have no use in a line.
var functions = []string{"and", "or", "not", "eq", "ne", "lt", "le", "gt", "ge", "len"}

// check walks a template's tree and names the first part that is not allowed.
func check(n parse.Node) error {
	switch n := n.(type) {
	case nil, *parse.TextNode, *parse.StringNode, *parse.NumberNode, *parse.BoolNode, *parse.CommentNode:
		return nil
	case *parse.ListNode:
		if n == nil {
			return nil // no else
		}
		return each(n.Nodes)
	case *parse.ActionNode:
		return check(n.Pipe)
	case *parse.IfNode:
		return each([]parse.Node{n.Pipe, n.List, n.ElseList})
	case *parse.PipeNode:
		if len(n.Decl) > 0 {
			return fmt.Errorf("a template cannot use %s", short(n.String()))
		}
		return each(n.Cmds)
	case *parse.CommandNode:
		return each(n.Args)
	case *parse.FieldNode:
		if !slices.ContainsFunc(Fields(), func(f Field) bool { return f.Name == n.String() }) {
			return fmt.Errorf("there is no field %s", n)
		}
		return nil
	case *parse.IdentifierNode:
		if !slices.Contains(functions, n.Ident) {
			return fmt.Errorf("a template cannot use %s", n.Ident)
		}
		return nil
	}
	return fmt.Errorf("a template cannot use %s", short(n.String()))
}

func each[N parse.Node](nodes []N) error {
	for _, n := range nodes {
		if err := check(n); err != nil {
			return err
		}
	}
	return nil
}

// where is what text/template puts before its messages.
var where = regexp.MustCompile(`^template: :\d+(:\d+)?: (executing "" at )?`)

// plain takes a message of text/template to its core.
func plain(err error) string {
	s := where.ReplaceAllString(err.Error(), "")
	if strings.HasPrefix(s, "function ") && strings.HasSuffix(s, " not defined") {
		return "a field begins with a point, as in {{.Name}}; " + s
	}
	return short(s)
}

// short keeps a foreign text within a message's line.
func short(s string) string {
	if r := []rune(s); len(r) > 80 {
		return string(r[:80]) + "…"
	}
	return s
}
