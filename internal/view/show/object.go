package show

import (
	"bytes"
	"encoding/json"
	"io"
	"reflect"
	"strings"
)

// object is a JSON object. Its names and their order are a contract with those who read it.
type object []member

// member is a name of an object, and what stands below it. A name that ends in ? is left out where there is nothing.
type member struct {
	name  string
	value any
}

// objects is a list of objects, one for each of a list.
func objects[T any](list []T, of func(T) object) []object {
	var all []object
	for _, x := range list {
		all = append(all, of(x))
	}
	return all
}

// MarshalJSON implements json.Marshaler.
func (o object) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	b.WriteByte('{')
	for _, m := range o {
		name, maybe := strings.CutSuffix(m.name, "?")
		if v := reflect.ValueOf(m.value); maybe && v.Len() == 0 {
			continue
		}
		if b.Len() > 1 {
			b.WriteByte(',')
		}
		if err := e.Encode(name); err != nil {
			return nil, err
		}
		b.WriteByte(':')
		if err := e.Encode(known(m.value)); err != nil {
			return nil, err
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// known is a value as JSON has it: a number that does not exist is null, since JSON knows neither NaN nor infinity, and
// a list or map of nothing is no null, so that a script can loop over it.
func known(value any) any {
	v := reflect.ValueOf(value)
	switch _, own := value.(json.Marshaler); {
	case own:
	case v.Kind() == reflect.Float64 && !finite(v.Float()):
		return nil
	case v.Kind() == reflect.Pointer && !v.IsNil():
		return known(v.Elem().Interface())
	case v.Kind() == reflect.Map && v.IsNil():
		return object{}
	case v.Kind() == reflect.Slice:
		list := make([]any, v.Len())
		for i := range list {
			list[i] = known(v.Index(i).Interface())
		}
		return list
	}
	return value
}

// WriteJSON writes a value as indented JSON, characters as they are.
func WriteJSON(out io.Writer, value any) error {
	e := json.NewEncoder(out)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(value)
}
