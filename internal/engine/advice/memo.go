package advice

import (
	"crypto/sha256"
	"encoding/json"
	"runtime"
	"slices"
	"sync"
)

// kept is how many answers of a stage a memo holds: enough for the what-ifs that a few people have open, and few enough
// that the draws of all of them take no more than 100 MB; in a browser, what one reader types and takes back.
var kept = map[bool]int{true: 2, false: 12}[runtime.GOOS == "js"]

// stage keeps the latest answers of one stage of the chain by a digest of its inputs. Who asks for an answer that
// another is working out waits for it.
type stage[T any] struct {
	mu      sync.Mutex
	answers map[[sha256.Size]byte]*answer[T]
	order   [][sha256.Size]byte // oldest first
}

type answer[T any] struct {
	once  sync.Once
	value T
	err   error
}

// get is the answer to the inputs, worked out at most once while it is kept.
func (s *stage[T]) get(inputs any, work func() (T, error)) (T, error) {
	return s.of(kept, inputs, work)
}

// of is get where no more than so many answers are kept.
func (s *stage[T]) of(most int, inputs any, work func() (T, error)) (T, error) {
	text, err := json.Marshal(inputs)
	if err != nil {
		return work() // a number that JSON has no word for: work will name it as a fault
	}
	key := sha256.Sum256(text)
	s.mu.Lock()
	a, have := s.answers[key]
	if !have {
		a = new(answer[T])
		if s.answers == nil {
			s.answers = map[[sha256.Size]byte]*answer[T]{}
		}
		for len(s.order) >= most {
			delete(s.answers, s.order[0])
			s.order = s.order[1:]
		}
		s.answers[key] = a
		s.order = append(s.order, key)
	} else if i := slices.Index(s.order, key); i >= 0 {
		s.order = append(slices.Delete(s.order, i, i+1), key)
	}
	s.mu.Unlock()
	a.once.Do(func() { a.value, a.err = work() })
	return a.value, a.err
}
