package pool

import (
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// Result is the joint model fitted.
type Result struct {
	Gains        []Gain // one a practice that is estimable, in the order of the set
	Between      []Difference
	Shares       []Share
	Variances    []Variance
	Q, QP, I2Pct float64
	QDF          int
	Weights      []Weight
	NotEstimable []practice.Key // no chain of studies links it to unsanitized
	Ageing       Ageing
	Moderators   []Moderator
	Rows         int
	Studies      int
	Sites        int
	Notes        note.List

	// Of inference by mixture.
	Older []practice.Key // studied with older drops only: they have no gain of a first season
	KR    []Gain         // the gains by Kenward-Roger, for papers
	Apart []Apart        // by study; nil with fewer than four
	// the gains with all scales of the priors on standard deviations halved and doubled; worked out when asked for
	Halved, Doubled func() []Gain

	estimated note.List // what is said of variances that are estimated, and not integrated over

	options Options
	set     practice.Set
	table   *table
	counts  counts
	members []member // what every answer is averaged over
	byAge   []member // every age of a replaced drop a treatment of its own

	// nothing is asked but what is integrated: how drops age by Kenward-Roger is only seen to be there
	gainsAlone bool
	agedTable  *table
	integrated *integrated // nil unless asked for
	near       *integrated // whose boxes are held; nil: none's

	stated map[practice.Treatment]Gain // of a result that was frozen, whose studies are not there to ask
}
