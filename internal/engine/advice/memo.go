package advice

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"maps"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"weak"
)

// kept is how many answers of a stage a memo holds: enough for the what-ifs that a few people have open, and few enough
// that the draws of all of them take no more than 100 MB; in a browser, what one reader types and takes back.
var kept = map[bool]int{true: 2, false: 8}[runtime.GOOS == "js"]

// key is the digest of inputs by which their answer is known.
type key [sha256.Size]byte

// unnamed counts inputs that have no digest.
var unnamed atomic.Int64

// keyOf is the digest of inputs. Those with a number that JSON has no word for are like none other: work will name it
// as a fault.
func keyOf(inputs any) key {
	text, err := json.Marshal(inputs)
	if err != nil {
		text = fmt.Append(nil, err, unnamed.Add(1))
	}
	return sha256.Sum256(text)
}

// stage keeps the latest answers of one stage of the chain by a digest of its inputs, and knows the others as long as
// somebody holds them. Who asks for an answer that another is working out waits for it.
type stage[T any] struct {
	mu      sync.Mutex
	answers map[key]weak.Pointer[answer[T]]
	order   []*answer[T] // oldest first
}

type answer[T any] struct {
	once  sync.Once
	done  atomic.Bool
	value T
	err   error
}

// get is the answer to the inputs, worked out at most once while it is kept.
func (s *stage[T]) get(inputs key, work func() (T, error)) (T, error) {
	return s.of(kept, inputs, work)
}

// of is get where no more than so many answers are kept.
func (s *stage[T]) of(most int, inputs key, work func() (T, error)) (T, error) {
	a := s.held(most, inputs, work)
	return a.value, a.err
}

// has is true of inputs whose answer is kept; who would wait for one that is being worked out has none.
func (s *stage[T]) has(inputs key) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	a := s.answers[inputs].Value()
	return a != nil && a.done.Load()
}

// held is of, for who holds on to the answer.
func (s *stage[T]) held(most int, inputs key, work func() (T, error)) *answer[T] {
	s.mu.Lock()
	a := s.answers[inputs].Value()
	if a == nil {
		a = new(answer[T])
		if s.answers == nil {
			s.answers = map[key]weak.Pointer[answer[T]]{}
		}
		maps.DeleteFunc(s.answers, func(_ key, a weak.Pointer[answer[T]]) bool { return a.Value() == nil })
		s.answers[inputs] = weak.Make(a)
	}
	if i := slices.Index(s.order, a); i >= 0 {
		s.order = slices.Delete(s.order, i, i+1)
	}
	s.order = append(slices.Delete(s.order, 0, max(0, len(s.order)-most+1)), a)
	s.mu.Unlock()
	a.once.Do(func() {
		a.value, a.err = work()
		a.done.Store(true)
	})
	return a
}
