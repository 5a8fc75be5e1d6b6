package practice

// Rule is one permission rule: it attaches to a product's label and its use, at a place and under a certificate.
// Rules are data that a user edits; the tool informs, it does not permit.
type Rule struct {
	Wash    Wash   // "" any
	Spout   Spout  // "" any
	Product string // part of the product's name, "" any
	Place   string // ISO 3166 code or the start of one (US, US-VT), "" any
	Organic *bool  // nil: with or without a certificate
	Verdict Verdict
	Reason  string // English text, the id of its translation
	Checked string // date, YYYY-MM-DD; a rule lapses after 12 months
}

// Verdict is what the rules say of a practice at a place.
type Verdict string

const (
	Permitted Verdict = "permitted"
	HeldBack  Verdict = "held-back" // until the label and the authorities say yes
	Never     Verdict = "never"
)
