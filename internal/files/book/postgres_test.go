package book

import (
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
)

// What PostgreSQL says in codes is said in words: the classes of its manual's appendix A. A server that stops says so
// before the connection ends, now and then, and a change may have been kept just before.
func TestWordsOfCodes(t *testing.T) {
	for code, words := range map[string]string{
		"57P01": "look whether the change was kept", // admin_shutdown: also the end of the postmaster
		"57P02": "look whether the change was kept", // crash_shutdown
		"57P03": "does not answer",                  // cannot_connect_now: it starts or recovers
		"57P05": "does not answer",                  // idle_session_timeout
		"08006": "does not answer",                  // connection_failure
		"08P01": "does not answer",                  // protocol_violation
		"57P04": "refuses that",                     // database_dropped
		"57014": "broke that off (the reason)",      // query_canceled: its time is over, or by request
		"28P01": "does not let this user in",
		"53100": "the disk is full",
		"40001": "another program has been writing",
	} {
		refused(t, code, postgresWords("postgres://x", &pgconn.PgError{Code: code, Message: "the reason"}), words)
	}
}
