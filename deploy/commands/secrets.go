package commands

import (
	"context"
	"errors"
	"fmt"

	"hotday/models/store"
)

// Secrets looks after the key of the secrets.
type Secrets struct {
	New    secretsNew    `cmd:"" help:"Make a key file."`
	Rotate secretsRotate `cmd:"" help:"Encrypt the secrets with a new key."`
	Forget secretsForget `cmd:"" help:"Remove the webhooks and devices whose key is lost."`
}

func (secretsNew) Help() string {
	return `Makes a new key file and refuses to overwrite one. The service makes its own where it may write; several replicas need the same one
from the start. Example:

    hotday secrets new hotday.key`
}

type secretsNew struct {
	File string `arg:"" placeholder:"FILE" help:"The key file to make."`
}

func (c *secretsNew) Run(s Streams) error {
	if err := store.NewKeyFile(c.File); err != nil {
		return err
	}
	fmt.Fprintf(s.Out, "%s: keep a copy somewhere safe, apart from the database's backups\n", c.File)
	return nil
}

func (secretsRotate) Help() string {
	return `Makes a new key, encrypts the secrets with it and removes the former key from the key file. The secrets themselves stay as
they are, so receivers notice nothing. The service may be running. Example:

    hotday secrets rotate --db hotday.db`
}

func (secretsForget) Help() string {
	return `Removes the webhooks whose secrets cannot be read since the key file is lost, so that the service starts again. Make them again on
the page Access, and give their receivers the new secrets. Notifications are turned on again on each device. Example:

    hotday secrets forget --db hotday.db`
}

type secretsRotate struct {
	DB         string `name:"db" required:"" complete:"file" placeholder:"DSN" help:"Database file, or postgres://user@host/database."`
	SecretFile string `complete:"file" placeholder:"FILE" help:"Key file. Default: the database's name with .key."`
}

func (c *secretsRotate) Run(ctx context.Context) (err error) {
	st, err := store.Open(ctx, c.DB, store.WithSecretFile(c.SecretFile))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	return st.RotateSecrets(ctx)
}

type secretsForget struct {
	DB         string `name:"db" required:"" complete:"file" placeholder:"DSN" help:"Database file, or postgres://user@host/database."`
	SecretFile string `complete:"file" placeholder:"FILE" help:"Key file. Default: the database's name with .key."`
}

func (c *secretsForget) Run(ctx context.Context, s Streams) (err error) {
	st, err := store.Open(ctx, c.DB, store.WithSecretFile(c.SecretFile))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	removed, err := st.ForgetSecrets(ctx)
	for _, url := range removed {
		fmt.Fprintln(s.Out, "removed:", url)
	}
	return err
}
