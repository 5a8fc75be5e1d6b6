package budget

// In is the ledger of one season whose sap is so many times as sweet and whose syrup and sap bring so many times as
// much as usual. Plans are shared. It allocates nothing.
func (l *Ledger) In(sugar, price float64) Ledger {
	s := *l
	s.syrup, s.added = sugar*l.syrup, sugar*l.added
	s.bulkPrice, s.retailPrice, s.sapPrice = price*l.bulkPrice, price*l.retailPrice, price*sugar*l.sapPrice
	for i := range s.sliced {
		x := &s.sliced[i]
		x.bulk, x.retail, x.processing = sugar*price*x.bulk, sugar*price*x.retail, sugar*x.processing
	}
	if !s.limited {
		s.unlimited()
	}
	return s
}
