package store

import (
	"fmt"
	"net/url"
	"strings"
)

// IsServer reports whether a DSN names a PostgreSQL database, which several processes may share, and not an SQLite file.
func IsServer(dsn string) bool {
	return strings.HasPrefix(dsn, "postgres://") || strings.HasPrefix(dsn, "postgresql://")
}

func unknownScheme(scheme string) error {
	return fmt.Errorf("--db takes the path of an SQLite file or postgres://user@host/database, not %s://…", scheme)
}

// Shown returns a DSN without its password, for messages.
func Shown(dsn string) string {
	if !IsServer(dsn) {
		return dsn
	}
	u, err := url.Parse(dsn)
	if err != nil {
		return "postgres://…"
	}
	q := u.Query()
	for _, secret := range []string{"password", "sslpassword"} {
		q.Del(secret)
	}
	u.RawQuery = q.Encode()
	return u.Redacted()
}

// requireFile returns an error for a DSN of PostgreSQL where only SQLite files can be used, with what to use instead.
func requireFile(dsn, instead string) error {
	if IsServer(dsn) {
		return fmt.Errorf("%s is a PostgreSQL database: %s", Shown(dsn), instead)
	}
	return nil
}
