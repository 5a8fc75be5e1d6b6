package show

import "spile/internal/view/say"

// Proof is what the digests of a workbook prove, and what they do not.
func Proof(v *say.Voice) (proved, unproved []string) {
	return []string{
			v.Text("Two workbooks with one digest of what they hold hold the same, by whatever changes."),
			v.Text("Two with one digest of the history hold it by the same changes, of the same people at the " +
				"same times."),
		}, []string{
			v.Text("That a change was made by whom it names and when it says: both are what that computer said."),
			v.Text("That the history is whole to its end: who can write the file can take away the latest changes, " +
				"or write all of it anew with digests that fit. Keep the digests elsewhere, and compare."),
			v.Text("That what was typed in is true."),
		}
}
