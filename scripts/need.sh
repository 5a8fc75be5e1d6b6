# need COMMAND PACKAGE...: is COMMAND here, or can it be installed (root on Debian)? To be sourced.
need() {
	local command=$1
	shift
	command -v "$command" >/dev/null 2>&1 && return 0
	[ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1 || return 1
	echo "installing $*"
	{ apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@"; } >/dev/null 2>&1
	command -v "$command" >/dev/null 2>&1
}
