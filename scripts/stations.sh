#!/usr/bin/env bash
# The workbook over PostgreSQL: every test of package book again, the commands, accounts and their rights, on a server of their own in a temporary
# folder, as an ordinary user. Installs PostgreSQL where it may.
set -u
cd "$(dirname "$0")/.."
. scripts/need.sh
. scripts/tests.sh
ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1 || need initdb postgresql || ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1 ||
	{ echo "NOT RUN: the workbook over PostgreSQL needs PostgreSQL"; exit 1; }
SPILE_ENGINE=postgres tests "" $(go list ./internal/files/book) || exit 1
command -v chromium-browser google-chrome >/dev/null 2>&1 || need chromium chromium ||
	{ echo "NOT RUN: a season of two stations needs Chromium"; exit 1; }
SPILE_BROWSER=1 SPILE_ENGINE=postgres tests "-run Served" ./cmd/spile ./internal/view/web
