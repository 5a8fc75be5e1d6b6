//go:build js

// Command room is the engine behind a published page: it answers, in a worker of the browser, what the page asks of the
// evidence that is frozen into it. The page calls room: first with the evidence, a Uint8Array, then with a question at
// a time, a text of JSON.
package main

import (
	"encoding/json"
	"errors"
	"syscall/js"

	"spile/internal/engine/advice"
	"spile/internal/view/own"
	"spile/internal/view/say"
)

// question is what the page asks.
type question struct {
	What  string // form, rank, sure, plan or file
	Lang  string
	Units say.Units
	Typed own.Typed
}

func main() {
	var thawed *advice.Thawed
	desks := map[string]own.Desk{}
	js.Global().Set("room", js.FuncOf(func(_ js.Value, args []js.Value) any {
		if thawed == nil {
			data := make([]byte, args[0].Length())
			js.CopyBytesToGo(data, args[0])
			z, err := advice.Unpack(data)
			if err != nil {
				return said(nil, err)
			}
			thawed = z.Thaw()
			return said(true, nil)
		}
		var q question
		if err := json.Unmarshal([]byte(args[0].String()), &q); err != nil {
			return said(nil, err)
		}
		d, ok := desks[q.Lang+string(q.Units)]
		if !ok {
			d = own.Desk{Thawed: thawed, V: say.In(q.Lang).With(q.Units)}.Ready()
			desks[q.Lang+string(q.Units)] = d
		}
		switch q.What {
		case "form":
			return said(d.Form(), nil)
		case "rank":
			return said(d.Rank(q.Typed, false), nil)
		case "sure":
			return said(d.Rank(q.Typed, true), nil)
		case "plan":
			return said(d.Plan(q.Typed), nil)
		case "file":
			return said(d.File(q.Typed), nil)
		}
		return said(nil, errors.New("no such question: "+q.What))
	}))
	select {}
}

// said is an answer as JSON.
func said(x any, err error) string {
	out := map[string]any{"answer": x}
	if err != nil {
		out = map[string]any{"error": err.Error()}
	}
	text, err := json.Marshal(out)
	if err != nil {
		return `{"error":"an answer that JSON has no word for"}`
	}
	return string(text)
}
