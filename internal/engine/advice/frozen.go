package advice

import (
	"bytes"
	"encoding/json"
	"errors"
	"sync"

	"spile/internal/engine/plan"
	"spile/internal/engine/pool"
	"spile/internal/trade/bush"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// Frozen is what the studies of an answer say, as plain data: whoever holds it can rank and plan under other prices, at
// other places and in other sugarbushes, without the studies. No study and no reading is in it.
type Frozen struct {
	Practices practice.Set    `json:"practices"`
	Rules     []practice.Rule `json:"rules"` // the station's own; those shipped stand beside them
	Prices    price.Prices    `json:"prices"`
	Money     *pool.Frozen    `json:"money"`
	Sections  *pool.Frozen    `json:"sections,omitempty"` // what plans rest on, where sections are told apart by more
	Unsure    []string        `json:"unshown,omitempty"`  // which of it may add to a gain or take from it
	Scope     plan.Scope      `json:"scope"`
	Base      plan.Base       `json:"base"`
	Invented  int             `json:"invented,omitempty"` // studies, of those given
	Strays    Strays          `json:"strays"`

	Narrow map[practice.Key]Narrow `json:"narrow"` // of the practices that have a word of it
}

// Freeze is what an answer's studies say. The answer has prices.
func (m *Memo) Freeze(a *Advice) (*Frozen, error) {
	in := a.Input
	z := &Frozen{Practices: in.Practices, Rules: in.Rules, Prices: *in.Prices, Scope: scope(a), Base: base(a),
		Invented: in.InventedStudies(), Strays: in.strays(), Narrow: map[practice.Key]Narrow{}}
	for _, p := range in.Practices {
		if x := a.Narrow(p.Key); x.says() && p.Key != practice.Unsanitized { // of which nothing is said
			z.Narrow[p.Key] = x
		}
	}
	sections, unsure, err := m.moderated(in, planModerators)
	if err != nil {
		return nil, err
	}
	var asked []practice.Treatment
	for _, g := range a.Money.Gains {
		p, _ := in.Practices.Find(g.Treatment.Practice)
		for age := 0; age == 0 || p.Ages() && age < maxInterval; age++ {
			asked = append(asked, practice.Treatment{Practice: p.Key, DropAge: age})
		}
	}
	z.Money, z.Unsure = a.Money.Frozen(1./(1<<19), asked), unsure
	if len(sections.Moderators) > 0 {
		z.Sections = sections.Frozen(1./(1<<16), asked)
	}
	return z, nil
}

// Pack is what was frozen as it is kept: one line of JSON, then the numbers of its tables.
func (z *Frozen) Pack() ([]byte, error) {
	data, err := json.Marshal(z)
	data = append(data, '\n')
	for _, f := range []*pool.Frozen{z.Money, z.Sections} {
		data = f.Pack(data)
	}
	return data, err
}

// Unpack reads it back; it keeps the data.
func Unpack(data []byte) (*Frozen, error) {
	line, numbers, _ := bytes.Cut(data, []byte("\n"))
	z := new(Frozen)
	if err := json.Unmarshal(line, z); err != nil {
		return nil, err
	}
	for _, f := range []*pool.Frozen{z.Money, z.Sections} {
		ok := false
		if numbers, ok = f.Unpack(numbers); !ok {
			return nil, errors.New("what was frozen is cut short")
		}
	}
	return z, nil
}

// Thawed answers from what was frozen. It is ready for one call after the other.
type Thawed struct {
	*Frozen
	money    *pool.Result
	sections func() *plan.Gains // of sections that are told apart; read when first asked for
	memo     Memo
}

// Thaw makes what was frozen ready to answer.
func (z *Frozen) Thaw() *Thawed {
	t := &Thawed{Frozen: z, money: z.Money.Result(z.Practices)}
	t.sections = sync.OnceValue(func() *plan.Gains {
		if z.Sections == nil {
			return plan.Over(t.money)
		}
		return plan.Over(z.Sections.Result(z.Practices))
	})
	return t
}

// Of is the answer under some prices, as Memo.Of gives it. What is asked of single studies is not to be asked of it.
func (t *Thawed) Of(p *price.Prices) (*Advice, error) {
	a, err := t.Ranked(p)
	if err != nil {
		return nil, err
	}
	return t.memo.Sure(a), nil
}

// Outlook is Of with what each option nets in a poor, a usual and a good season, as Memo.Weigh gives it.
func (t *Thawed) Outlook(p *price.Prices) (*Advice, error) {
	a, err := t.Of(p)
	if err != nil || a.Recommended < 0 {
		return a, err
	}
	r, err := t.memo.Prospect(a, DrawOptions{Single: true})
	if err != nil {
		return nil, err
	}
	with := *a
	with.Weighed = &Weighed{Prospect: r}
	return &with, nil
}

// Ranked is the answer before it says how sure it is, as Memo.Ranked gives it.
func (t *Thawed) Ranked(p *price.Prices) (*Advice, error) {
	in := Input{Pool: pool.Default(), Strays: &t.Strays}
	in.Practices, in.Rules, in.Prices = t.Practices, t.Rules, p
	in, err := in.settled()
	if err != nil {
		return nil, err
	}
	money := func() (*pool.Result, error) { return t.money, nil }
	return t.memo.answer(in, fitted{pooled: pooled{pool: t.money, money: money}, narrow: t.Narrow,
		notes: input.SayInvented(t.Invented, t.Base.Given)})
}

// Plan is the plan of a sugarbush, as Memo.Plan gives it.
func (t *Thawed) Plan(b bush.Sugarbush) (*plan.Plan, error) {
	if f := b.Faults(t.Practices); f != nil {
		return nil, f
	}
	a, err := t.Ranked(&b.Prices)
	if err != nil {
		return nil, err
	}
	if !tells(b) {
		return a.plan(b, plan.Over(t.money), nil, t.Scope, t.Base)
	}
	return a.plan(b, t.sections(), t.Unsure, t.Scope, t.Base)
}
