# tests FLAGS PACKAGES...: runs the tests of the packages, and says what failed and what was not run for want of
# something. Properties are drawn from one seed, so that two runs of one commit say the same; `make fuzz` draws them
# anew, and many more. What go vet finds is for `make test` to say, once. LONGEST is what a package may take. To be
# sourced at the root of the tree.
tests() {
	local status=0 rapid properties others
	rapid=$(bash scripts/rapid.sh)
	properties=$(printf '%s\n' "${@:2}" | grep -xF "$rapid")
	others=$(printf '%s\n' "${@:2}" | grep -vxF "$rapid")
	[ -z "$others" ] || ran $1 $others || status=1
	[ -z "$properties" ] || ran $1 $properties -rapid.seed=1 -rapid.checks=40 || status=1
	return $status
}

ran() { go test -vet=off -json -count=1 -timeout "${LONGEST:-20m}" "$@" | go run scripts/ran.go; }
