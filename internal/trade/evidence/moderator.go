package evidence

// ModeratorNames are the properties of a study that the joint model can hold its gains against.
//
//	vacuum              mean over the arms, kPa
//	line-age            mean over the arms, seasons
//	tubing              inside diameter, mean over the arms, inches
//	days-open           last run − tapped, mean over the arms, days
//	reference-drop-age  seasons the reference's drops were in use
//	season-class        1 where the season was a freak one, else 0
func ModeratorNames() []string {
	return []string{"vacuum", "line-age", "tubing", "days-open", "reference-drop-age", "season-class"}
}
