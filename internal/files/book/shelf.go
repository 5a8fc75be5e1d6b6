package book

import (
	"bytes"
	"compress/flate"
	"crypto/sha256"
	"encoding/binary"
	"io"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"spile/internal/note"
	"spile/internal/trade/trial"
)

// shelf holds what was read in one trial. Readings are many and few trials are looked at in a day, so all versions but
// the last few are packed, and of the trials that were looked at so many stay open as there is room for.
type shelf struct {
	mark   ref // of its readings
	bundle *bundle
	tail   []*version // behind those, at most loose
	change int64      // the last that touched it
	told   *tally     // nil: nobody asked since
}

// tally is what a shelf says of itself.
type tally struct {
	digest string
	size   int // readings that are there
	faults note.Faults
	apart  *trial.Apart
}

// bundle is versions of readings in the order of their rows, packed. It does not change.
type bundle struct {
	packs []pack
	size  int
	open  atomic.Pointer[reads] // nil: packed
}

type pack struct {
	size int // versions
	data []byte
}

// reads are versions by their things, each in the place of the first one of its thing.
type reads struct {
	order []*version
	at    map[string]int
}

const (
	loose    = 64      // versions of a trial that are not packed; ten thousand trials hold 250 MB of them
	packed   = 1024    // versions that are packed together, once there are so many
	mostOpen = 100_000 // versions of all trials that stay open, 700 bytes each; one trial may be larger
)

// rooms are the bundles that are open in this program, the one last asked for at the end.
var rooms struct {
	sync.Mutex
	open []*bundle
}

// put adds a version.
func (s *shelf) put(v *version) {
	s.tail, s.change, s.told = append(s.tail, v), v.change, nil
	if len(s.tail) >= loose {
		s.bundle, s.tail = s.bundle.with(s.tail), nil
	}
}

// find is the last version of a thing, or nil.
func (s *shelf) find(key string) *version {
	for _, v := range slices.Backward(s.tail) {
		if v.key == key {
			return v
		}
	}
	r := s.bundle.reads()
	if i, ok := r.at[key]; ok {
		return r.order[i]
	}
	return nil
}

// live lists the readings that are there, in the order in which they came.
func (s shelf) live() []*version {
	r := s.bundle.reads()
	order, fresh := slices.Clone(r.order), map[string]int{}
	for _, v := range s.tail {
		i, known := r.at[v.key]
		if !known {
			i, known = fresh[v.key]
		}
		if !known {
			i, order = len(order), append(order, nil)
			fresh[v.key] = i
		}
		order[i] = v
	}
	return slices.DeleteFunc(order, func(v *version) bool { return v.body == nil })
}

// versions goes through all that there ever were, in turn.
func (s *shelf) versions(do func(*version)) {
	if s.bundle != nil {
		for _, p := range s.bundle.packs {
			for _, v := range p.versions() {
				do(v)
			}
		}
	}
	for _, v := range s.tail {
		do(v)
	}
}

// last goes through the last version of each thing, also where that says that it is gone.
func (s *shelf) last(do func(*version)) {
	fresh := map[string]*version{}
	for _, v := range s.tail {
		fresh[v.key] = v
	}
	for _, v := range s.bundle.reads().order {
		if fresh[v.key] == nil {
			do(v)
		}
	}
	for _, v := range fresh {
		do(v)
	}
}

// says is what the shelf says of itself.
func (s *shelf) says() *tally {
	if s.told != nil {
		return s.told
	}
	live := s.live()
	t := &tally{size: len(live)}
	for _, v := range live {
		if _, err := v.get(); err != nil {
			t.faults = append(t.faults, note.FaultsOf(err)...)
		}
	}
	slices.SortFunc(live, func(a, b *version) int { return a.ref.compare(b.ref) })
	l := link{sha256.New()}
	for _, v := range live {
		l.version(&version{ref: v.ref, body: v.body})
	}
	t.digest = l.text()
	now := *s // as it is now, whatever is put on it
	now.tail = slices.Clip(now.tail)
	t.apart = trial.NewApart(t.digest, t.size, now.readings)
	s.told = t
	return t
}

// readings are those that are there, by their season.
func (s shelf) readings() map[int][]trial.Reading {
	of := map[int][]trial.Reading{}
	for _, v := range s.live() {
		if x, ok := v.value.(Logged[trial.Reading]); ok {
			of[x.Season] = append(of[x.Season], x.What)
		}
	}
	for year := range of {
		of[year] = slices.Clip(of[year]) // what one appends must not come to another
	}
	return of
}

// with is a bundle and what comes behind it.
func (b *bundle) with(tail []*version) *bundle {
	next := &bundle{}
	if b != nil {
		next.packs, next.size = slices.Clip(b.packs), b.size
	}
	raw := make([]byte, 0, 256*len(tail))
	for _, v := range tail {
		raw = v.pack(raw)
	}
	next.size += len(tail)
	small, size := len(next.packs), len(tail)
	for small > 0 && next.packs[small-1].size < packed {
		small--
		size += next.packs[small].size
	}
	if size < packed {
		small, size = len(next.packs), len(tail)
	}
	var before []byte
	for _, p := range next.packs[small:] {
		before = append(before, p.inflate()...)
	}
	next.packs = append(slices.Clone(next.packs[:small]), pack{size, deflate(append(before, raw...))})
	return next
}

func (r *reads) put(v *version) {
	i, known := r.at[v.key]
	if !known {
		i, r.order = len(r.order), append(r.order, nil)
		r.at[v.key] = i
	}
	r.order[i] = v
}

// reads opens a bundle, and shuts those that were not asked for lately.
func (b *bundle) reads() *reads {
	if b == nil {
		return &reads{}
	}
	r := b.open.Load()
	if r == nil {
		r = b.unpack()
		b.open.Store(r)
	}
	rooms.Lock()
	defer rooms.Unlock()
	if n := len(rooms.open); n > 0 && rooms.open[n-1] == b {
		return r
	}
	left, keep := mostOpen-b.size, []*bundle{b}
	for _, o := range slices.Backward(rooms.open) {
		if o == b {
			continue
		}
		if left -= o.size; left < 0 {
			o.open.Store(nil)
			continue
		}
		keep = append(keep, o)
	}
	slices.Reverse(keep)
	rooms.open = keep
	return r
}

// unpack reads all packs; what is in them can be shared.
func (b *bundle) unpack() *reads {
	parts := make([][]*version, len(b.packs))
	var next atomic.Int64
	var readers sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(b.packs)) {
		readers.Go(func() {
			for i := int(next.Add(1)) - 1; i < len(parts); i = int(next.Add(1)) - 1 {
				parts[i] = b.packs[i].versions()
			}
		})
	}
	readers.Wait()
	r := &reads{make([]*version, 0, b.size), make(map[string]int, b.size)}
	for _, part := range parts {
		for _, v := range part {
			r.put(v)
		}
	}
	return r
}

// pack writes a version behind others.
func (v *version) pack(to []byte) []byte {
	to = binary.AppendUvarint(to, uint64(v.change))
	for _, s := range []*string{&v.key, v.body, v.place} {
		if s == nil {
			to = append(to, 0)
			continue
		}
		to = binary.AppendUvarint(to, uint64(len(*s))+1)
		to = append(to, *s...)
	}
	return to
}

// versions are those of a pack, with their values where these can be read.
func (p pack) versions() []*version {
	text := string(p.inflate())
	number := func() (x uint64) {
		for shift := 0; ; shift += 7 {
			c := text[0]
			text = text[1:]
			if x |= uint64(c&0x7f) << shift; c < 0x80 {
				return x
			}
		}
	}
	word := func() *string {
		n := number()
		if n == 0 {
			return nil
		}
		s := text[:n-1]
		text = text[n-1:]
		return &s
	}
	list := make([]*version, p.size)
	for i := range list {
		v := &version{ref: ref{kind: Reading}}
		v.change = int64(number())
		v.key, v.body, v.place = *word(), word(), word()
		if v.body != nil {
			v.get() // what cannot be read is named by who asks
		}
		list[i] = v
	}
	return list
}

func (p pack) inflate() []byte {
	raw, err := io.ReadAll(flate.NewReader(bytes.NewReader(p.data)))
	if err != nil {
		panic(err) // it was packed here
	}
	return raw
}

var deflaters = sync.Pool{New: func() any { w, _ := flate.NewWriter(nil, flate.DefaultCompression); return w }}

func deflate(raw []byte) []byte {
	var to bytes.Buffer
	w := deflaters.Get().(*flate.Writer)
	defer deflaters.Put(w)
	w.Reset(&to)
	w.Write(raw) // a buffer takes everything
	w.Close()
	return slices.Clip(slices.Clone(to.Bytes()))
}
