package commands

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"hotday/models"
	"hotday/models/store"
)

// Token creates, lists and revokes access keys.
type Token struct {
	New    tokenNew    `cmd:"" help:"Create an access key. It is shown only once."`
	List   tokenList   `cmd:"" help:"List the access keys, without their secrets."`
	Revoke tokenRevoke `cmd:"" help:"Revoke an access key."`
}

func (tokenNew) Help() string {
	return `Examples:

    hotday token new --db hotday.db --scope manage --name Ada
    hotday token new --db hotday.db --scope sales --site corner --name till
    hotday token new --db hotday.db --scope read --group north --name "Northern region"`
}

func (tokenList) Help() string { return "Example:\n\n    hotday token list --db hotday.db" }

func (tokenRevoke) Help() string {
	return "Example:\n\n    hotday token revoke 01J8ZQ6V0000000000000000AA --db hotday.db"
}

type tokenNew struct {
	DB      string   `name:"db" required:"" complete:"file" placeholder:"DSN" help:"Database file, or postgres://user@host/database."`
	Scope   []string `required:"" enum:"manage,kitchen,sales,read" help:"Scopes, separated by commas: manage (everything), kitchen (marks, counts, read), sales (counts, weather, off-sale), read."`
	Site    string   `placeholder:"CODE" help:"Site of the key; without a site and groups, the whole organisation."`
	Group   []string `placeholder:"CODE" help:"Groups of sites that the key reaches, separated by commas, as they are at any time."`
	Sandbox bool     `help:"For trying out an integration: requests are checked and answered as usual, but nothing is stored."`
	Name    string   `placeholder:"TEXT" help:"Name of the key, e.g. its person or program."`
}

func (c *tokenNew) Run(ctx context.Context, s Streams) (err error) {
	st, err := store.Open(ctx, c.DB)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	_, secret, err := st.AddToken(ctx, models.Token{Name: c.Name, Scopes: c.Scope, Site: c.Site, Groups: c.Group, Sandbox: c.Sandbox}, time.Now())
	if err != nil {
		return err
	}
	_, err = fmt.Fprintln(s.Out, secret)
	return err
}

type tokenList struct {
	DB string `name:"db" required:"" complete:"file" placeholder:"DSN" help:"Database file, or postgres://user@host/database."`
}

func (c *tokenList) Run(ctx context.Context, s Streams) (err error) {
	st, err := store.Open(ctx, c.DB)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	tokens, err := st.Tokens(ctx)
	if err != nil {
		return err
	}
	for _, t := range tokens {
		state := "in use"
		if t.Sandbox {
			state = "sandbox"
		}
		if t.RevokedAt != nil {
			state = "revoked " + t.RevokedAt.Local().Format("2006-01-02 15:04")
		}
		fmt.Fprintf(s.Out, "%s  %-24s  %-24s  %-16s  %s\n", t.ID, strings.Join(t.Scopes, ","), cmp.Or(strings.Join(append(named(t.Site), t.Groups...), ","), "(organisation)"), state, t.Name)
	}
	return nil
}

// named is the list of a name, empty without one.
func named(name string) []string {
	if name == "" {
		return nil
	}
	return []string{name}
}

type tokenRevoke struct {
	ID string `arg:"" help:"ID of the access key, from hotday token list."`
	DB string `name:"db" required:"" complete:"file" placeholder:"DSN" help:"Database file, or postgres://user@host/database."`
}

func (c *tokenRevoke) Run(ctx context.Context) (err error) {
	st, err := store.Open(ctx, c.DB)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	return st.RevokeToken(ctx, c.ID, time.Now())
}
