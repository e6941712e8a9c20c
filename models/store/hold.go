package store

import "context"

// organisation is the name to hold for changes that read and then write what belongs to no site: people, tokens, webhooks, pairings.
// Sessions and the times at which something was used do without.
const organisation = "organisation"

// hold makes other transactions that hold the same name wait until this one ends. Where only one writes at a time it does nothing.
func (s *Store) hold(ctx context.Context, name string) error {
	return s.holdBy(ctx, name, s.dialect.nameLock, name)
}

// holdSite makes other transactions that change or read a site in order to write wait until this one ends. Every write transaction holds the
// sites that it reads, so that what it writes follows from what holds then.
func (s *Store) holdSite(ctx context.Context, code string) error {
	return s.holdBy(ctx, "site "+code, "SELECT id FROM sites WHERE code = ?"+s.dialect.rowLock, code)
}

func (s *Store) holdBy(ctx context.Context, name, statement, arg string) error {
	if s.dialect.writers == 1 || s.tx == nil || s.tx.readOnly || s.tx.holds(name) {
		return nil
	}
	_, err := s.exec(ctx, statement, arg)
	if err == nil {
		s.tx.held[name] = true
	}
	return err
}

// holds reports whether the transaction or one around it holds a name. A savepoint that is rolled back no longer does.
func (tx *transaction) holds(name string) bool {
	return tx != nil && (tx.held[name] || tx.around.holds(name))
}

// alone runs fn in a write transaction that holds the organisation.
func (s *Store) alone(ctx context.Context, fn func(*Store) error) error {
	return s.within(ctx, func(t *Store) error {
		if err := t.hold(ctx, organisation); err != nil {
			return err
		}
		return fn(t)
	})
}
