// Command hotday plans a café's cold coffee for the next hot days. This file reads the commands and wires the parts; the parts
// are in api (HTTP), jobs (what happens without being asked), planner (the answer) and models (the nouns and their keeping).
package main

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"strings"
	"syscall"
	"time"
	_ "time/tzdata" // the sites' zones, also where the machine has none

	"github.com/alecthomas/kong"
	"github.com/mattn/go-isatty"
	"golang.org/x/sync/errgroup"

	"hotday/api"
	"hotday/deploy/completion"
	"hotday/jobs"
	"hotday/models"
	"hotday/models/store"
	"hotday/planner"
	"hotday/planner/ical"
	"hotday/planner/paper"
	"hotday/planner/replay"
	"hotday/testdata/demo"
)

// Exit codes.
const (
	exitFailure  = 1
	exitBadInput = 2
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], streams{os.Stdin, os.Stdout, os.Stderr}))
}

// streams are what a command reads and writes.
type streams struct {
	in       io.Reader
	out, err io.Writer
}

// isTerminal reports whether a person looks at what is written.
func (s streams) isTerminal() bool {
	f, ok := s.out.(*os.File)
	return ok && isatty.IsTerminal(f.Fd())
}

// isASCII reports whether what is written goes to a terminal whose locale says that it shows no Unicode. What is piped or kept is
// UTF-8 always, so that it is the same on every machine.
func (s streams) isASCII() bool {
	locale := cmp.Or(os.Getenv("LC_ALL"), os.Getenv("LC_CTYPE"), os.Getenv("LANG"))
	return locale != "" && s.isTerminal() && !strings.Contains(strings.ToUpper(strings.ReplaceAll(locale, "-", "")), "UTF8")
}

// run does the command that args name and returns its exit code.
func run(ctx context.Context, args []string, io streams) int {
	var cli commands
	exited := -1
	parser, err := kong.New(&cli,
		kong.Name("hotday"),
		kong.Description("Plans a café's cold coffee for the next hot days: what to brew and when, how much ice to make, what will run short.\n\n"+
			"To see it at work: hotday demo. Each command has examples: hotday plan --help."),
		kong.Vars{"version": version(), "publish_at": jobs.DefaultPublishAt, "refit_at": jobs.DefaultRefitAt, "watch_at": jobs.DefaultWatchAt},
		kong.DefaultEnvars("HOTDAY"),
		kong.Writers(io.out, io.err),
		kong.Exit(func(code int) { exited = code }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
		kong.BindTo(ctx, (*context.Context)(nil)),
		kong.Bind(io),
	)
	if err != nil {
		fmt.Fprintln(io.err, "hotday:", err)
		return exitFailure
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	k, err := parser.Parse(args)
	if exited >= 0 {
		return exited // help was asked for
	}
	if err != nil {
		fmt.Fprintf(io.err, "hotday: %v\nSee %s --help.\n", err, commandOf(err))
		return exitBadInput
	}
	return exitCode(k.Run(), io.err)
}

// commandOf is the command that a person was writing when the line stopped making sense.
func commandOf(err error) string {
	var parse *kong.ParseError
	if errors.As(err, &parse) && parse.Context != nil {
		if node := parse.Context.Selected(); node != nil {
			return node.FullPath()
		}
	}
	return "hotday"
}

// exitCode says what went wrong: as a problem document where a person's input did.
func exitCode(err error, w io.Writer) int {
	var bad *models.Error
	switch {
	case err == nil:
		return 0
	case errors.As(err, &bad):
		enc := json.NewEncoder(w)
		enc.SetIndent("", "  ")
		enc.SetEscapeHTML(false)
		if e := enc.Encode(models.ProblemOf(err)); e != nil {
			return exitFailure
		}
		return exitBadInput
	}
	fmt.Fprintln(w, "hotday:", err)
	return exitFailure
}

type commands struct {
	Demo       demoCommand       `cmd:"" help:"Show an invented shop with a season of sales and a hot weekend ahead, until Ctrl-C. Leaves nothing behind."`
	Serve      serveCommand      `cmd:"" help:"Run the service."`
	Plan       planCommand       `cmd:"" help:"Plan a request document without a server: as text, JSON, paper or a calendar."`
	Calc       calcCommand       `cmd:"" help:"Do one calculation, JSON in, JSON out."`
	Replay     replayCommand     `cmd:"" help:"Relive a season day by day: what the plan would have cost, against the usual par sheet and perfect foresight."`
	Token      tokenCommand      `cmd:"" help:"Make, list and revoke access keys."`
	Completion completionCommand `cmd:"" help:"Print the script by which a shell completes these commands."`
	Complete   completeCommand   `cmd:"" hidden:"" help:"List what the last word may become, for those scripts."`
	Version    versionCommand    `cmd:"" help:"Print the version."`
}

// --- plan and calc ---

type planCommand struct {
	File   string `arg:"" complete:"file" help:"The request document; - is standard input."`
	Format string `enum:"text,json,pdf,ics" default:"text" help:"${enum}: for people, the whole plan, the picture of the days and their prep sheets on paper, or the tasks as a calendar."`
	Paper  string `enum:"a4,letter" default:"a4" help:"The paper of a PDF: ${enum}."`
	Out    string `short:"o" complete:"file" placeholder:"FILE" help:"Write to this file, whole or not at all, instead of standard output."`
}

func (planCommand) Help() string {
	return `Examples:

    hotday plan weekend.json
    hotday plan weekend.json --format pdf -o weekend.pdf
    hotday plan weekend.json --format ics -o weekend.ics
    hotday plan - --format json < weekend.json`
}

func (c *planCommand) Run(ctx context.Context, s streams) error {
	if c.Format == "pdf" && (c.Out == "" || c.Out == "-") && s.isTerminal() {
		return models.Invalid("/out", "-o FILE, or a pipe", "a PDF is nothing for a terminal to show")
	}
	doc, err := readAll(c.File, s)
	if err != nil {
		return err
	}
	var req models.PlanRequest
	if err := models.DecodeStrict(doc, &req); err != nil {
		return err
	}
	plan, err := planner.Compute(ctx, req)
	if err != nil {
		return err
	}
	out, err := c.write(req, plan, s)
	if err != nil {
		return err
	}
	return writeWhole(c.Out, s.out, out)
}

func (c *planCommand) write(req models.PlanRequest, plan models.Plan, s streams) ([]byte, error) {
	var out bytes.Buffer
	sheets := func() []models.PrepSheet { return planner.PrepSheets(req, plan, nil, plan.ComputedAt) }
	switch c.Format {
	case "json":
		err := writeJSON(&out, plan)
		return out.Bytes(), err
	case "pdf":
		size, _ := paper.SizeNamed(c.Paper)
		return paper.Plan(req, plan, sheets(), size)
	case "ics":
		return ical.Feed(req.Site, sheets(), nil)
	}
	if err := planner.WriteText(&out, req, plan); err != nil {
		return nil, err
	}
	if (c.Out == "" || c.Out == "-") && s.isASCII() {
		return []byte(planner.ASCII(out.String())), nil
	}
	return out.Bytes(), nil
}

type calcCommand struct {
	Kind string `arg:"" complete:"kinds" help:"What to calculate: one of the kinds above."`
}

func (calcCommand) Help() string {
	var b strings.Builder
	b.WriteString("Kinds:\n\n")
	for _, kind := range planner.CalcKinds() {
		fmt.Fprintf(&b, "    %-10s  %s\n", kind, planner.CalcAbout(kind))
	}
	b.WriteString("\nExamples:\n\n    echo '{\"dose_g\":20,\"brew_water_g\":240}' | hotday calc extraction\n" +
		"    echo '{\"beverage_g\":850,\"beverage_temp_c\":72,\"ice_temp_c\":-4,\"target_temp_c\":6}' | hotday calc chill\n    hotday calc water < water.json")
	return b.String()
}

func (c *calcCommand) Run(ctx context.Context, s streams) error {
	if planner.CalcAbout(c.Kind) == "" { // said before anything is read: a person may be typing
		return planner.NoCalculation(c.Kind)
	}
	body, err := readAll("-", s)
	if err != nil {
		return err
	}
	out, err := planner.Calc(ctx, c.Kind, body)
	if err != nil {
		return err
	}
	return writeJSON(s.out, out)
}

// --- completion ---

type completionCommand struct {
	Shell string `arg:"" enum:"bash,zsh,fish" help:"${enum}."`
}

func (completionCommand) Help() string {
	return `Examples:

    eval "$(hotday completion bash)"        for good: put this line into ~/.bashrc
    eval "$(hotday completion zsh)"         for good: put this line into ~/.zshrc
    hotday completion fish | source         for good: put this line into ~/.config/fish/config.fish`
}

func (c *completionCommand) Run(s streams) error {
	script, ok := completion.Script(c.Shell)
	if !ok {
		return models.Errorf(models.CodeNotFound, "there is no script for the shell %q", c.Shell)
	}
	_, err := io.WriteString(s.out, script)
	return err
}

type completeCommand struct {
	Words []string `arg:"" optional:"" passthrough:""`
}

func (c *completeCommand) Run(k *kong.Kong, s streams) error {
	values := map[string][]completion.Candidate{"season": {{Word: "demo", About: "the invented shop's season"}}}
	for _, kind := range planner.CalcKinds() {
		values["kinds"] = append(values["kinds"], completion.Candidate{Word: kind, About: planner.CalcAbout(kind)})
	}
	words := c.Words
	if len(words) > 0 && words[0] == "--" {
		words = words[1:]
	}
	_, err := io.WriteString(s.out, completion.Lines(completion.Next(k.Model, words, values)))
	return err
}

// maxDocument is the most that is read of one document, the same as over HTTP.
const maxDocument = 16 << 20

func readAll(file string, s streams) ([]byte, error) {
	in := s.in
	if f, ok := in.(*os.File); ok && file == "-" && isatty.IsTerminal(f.Fd()) {
		fmt.Fprintln(s.err, "hotday: reading JSON from the keyboard; Ctrl-D ends it, Ctrl-C gives up")
	}
	if file != "-" {
		f, err := os.Open(file)
		if err != nil {
			return nil, models.Errorf(models.CodeMalformed, "the document cannot be read: %v", err)
		}
		defer f.Close()
		in = f
	}
	doc, err := io.ReadAll(io.LimitReader(in, maxDocument+1))
	if err != nil {
		return nil, models.Errorf(models.CodeMalformed, "the document cannot be read: %v", err)
	}
	if len(doc) > maxDocument {
		return nil, models.Errorf(models.CodeTooLarge, "the document is larger than %d MiB", maxDocument>>20)
	}
	return doc, nil
}

func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// writeWhole writes to a file by way of another that takes its place, so that nobody reads half of it.
func writeWhole(file string, stdout io.Writer, data []byte) (err error) {
	if file == "" || file == "-" {
		_, err := stdout.Write(data)
		return err
	}
	tmp, err := os.CreateTemp(filepath.Dir(file), ".hotday-*")
	if err != nil {
		return fmt.Errorf("write %s: %w", file, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("write %s: %w", file, err), os.Remove(tmp.Name()))
		}
	}()
	_, err = tmp.Write(data)
	err = errors.Join(err, tmp.Chmod(0o644), tmp.Sync(), tmp.Close())
	if err != nil {
		return err
	}
	return os.Rename(tmp.Name(), file)
}

// --- serve ---

type serveCommand struct {
	DB              string        `name:"db" required:"" complete:"file" placeholder:"DSN" help:"The database: an SQLite file, made where there is none."`
	Listen          string        `default:"127.0.0.1:8080" help:"Address and port to answer on; port 0 takes a free one."`
	PublishAt       string        `default:"${publish_at}" placeholder:"CRON" help:"When the next day's prep sheet is published, in each site's time (${default})."`
	RefitAt         string        `default:"${refit_at}" placeholder:"CRON" help:"When the forecast learns from the day before, in each site's time (${default})."`
	WatchAt         string        `default:"${watch_at}" placeholder:"CRON" help:"When the day is looked at for what runs short (${default})."`
	PrivateWebhooks bool          `help:"Webhooks may go to this machine and to private networks, and by http."`
	SecureCookies   bool          `help:"Set when people reach the service by HTTPS."`
	Grace           time.Duration `default:"15s" help:"How long requests may run on when the service is stopped."`
	LogLevel        slog.Level    `default:"INFO" help:"DEBUG, INFO, WARN or ERROR."`
}

func (serveCommand) Help() string {
	return `Every flag may also be set in the environment, as HOTDAY_DB and so on. Examples:

    hotday serve --db hotday.db
    hotday serve --db hotday.db --listen 0.0.0.0:8080 --secure-cookies
    HOTDAY_DB=/var/lib/hotday/hotday.db hotday serve`
}

func (c *serveCommand) Run(ctx context.Context, s streams) error {
	log := slog.New(slog.NewTextHandler(s.err, &slog.HandlerOptions{Level: c.LogLevel}))
	p, err := open(ctx, *c, log)
	if err != nil {
		return err
	}
	if tokens, err := p.store.Tokens(ctx); err == nil && len(tokens) == 0 {
		log.Info("no access key exists yet; make one with: hotday token new --db " + c.DB + " --scope manage")
	}
	log.Info("hotday serves at "+p.Address(), "version", version(), "db", c.DB)
	return errors.Join(p.Run(ctx), p.Close())
}

// program is the service in one process: the store, what answers, and what works without being asked.
type program struct {
	config   serveCommand
	catchUp  time.Duration // how far back jobs look for what was missed; 0: their default
	store    *store.Store
	server   *api.Server
	listener net.Listener
	log      *slog.Logger
}

// open opens the database and the port; nothing runs yet.
func open(ctx context.Context, c serveCommand, log *slog.Logger) (*program, error) {
	st, err := store.Open(ctx, c.DB, store.WithLogger(log))
	if err != nil {
		return nil, err
	}
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", c.Listen)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("listen: %w", err), st.Close())
	}
	server := api.New(api.Config{Store: st, Sessions: st, Log: log, Example: demo.Shop, SecureCookies: c.SecureCookies, PrivateWebhooks: c.PrivateWebhooks, Version: version()})
	return &program{config: c, store: st, server: server, listener: l, log: log}, nil
}

// Address is where a browser on this machine finds the pages.
func (p *program) Address() string {
	host, port, err := net.SplitHostPort(p.listener.Addr().String())
	if ip := net.ParseIP(host); err == nil && (ip == nil || ip.IsUnspecified()) {
		host = "127.0.0.1"
	}
	return "http://" + net.JoinHostPort(host, port)
}

// Run answers and works until ctx ends or one of the two fails; then both finish or hand back what they hold.
func (p *program) Run(ctx context.Context) error {
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error { return p.server.Serve(ctx, p.listener, p.config.Grace) })
	g.Go(func() error {
		return jobs.Run(ctx, jobs.Config{Store: p.store, Worker: p.store, Log: p.log, PublishAt: p.config.PublishAt, RefitAt: p.config.RefitAt,
			WatchAt: p.config.WatchAt, CatchUp: p.catchUp, PrivateWebhooks: p.config.PrivateWebhooks})
	})
	return g.Wait()
}

// Close closes the port and the database.
func (p *program) Close() error {
	err := p.listener.Close()
	if errors.Is(err, net.ErrClosed) {
		err = nil // Run has closed it
	}
	return errors.Join(err, p.store.Close())
}

// --- demo ---

type demoCommand struct {
	Port int `default:"8080" help:"Port to answer on, on this machine only. 0 takes a free one; when the default is taken, a free one is taken too."`
	Days int `default:"2" help:"Days to plan, from the coming Saturday on (1 to 14)."`
}

func (demoCommand) Help() string {
	return `Examples:

    hotday demo
    hotday demo --port 9000 --days 3`
}

// demoPort is where the demo answers unless told otherwise.
const demoPort = 8080

func (c *demoCommand) Run(ctx context.Context, s streams) (err error) {
	if c.Days < 1 || c.Days > 14 {
		return models.Invalid("/days", "1 to 14", "%d days cannot be planned", c.Days)
	}
	dir, err := os.MkdirTemp("", "hotday-demo-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	begun := time.Now()
	say := func(format string, args ...any) {
		fmt.Fprintf(s.out, "%5.1f s  %s\n", time.Since(begun).Seconds(), fmt.Sprintf(format, args...))
	}
	p, err := c.open(ctx, filepath.Join(dir, "demo.db"), say, s.err)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, p.Close()) }()
	p.catchUp = time.Minute // yesterday this shop did not exist
	story, err := c.fill(ctx, p, say, s)
	if err != nil {
		if ctx.Err() != nil {
			return nil // stopped while it was being set up
		}
		return err
	}
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error { return p.Run(ctx) })
	g.Go(func() error { return sell(ctx, p, story) })
	return g.Wait()
}

// tillEvery is how often the demo's till posts; mostAway bounds what it makes up for after the machine slept.
const (
	tillEvery = time.Minute
	mostAway  = 24 * time.Hour
)

// sell is the demo's invented till going on: it posts what the story sells while the demo runs, as a real one would, until ctx ends.
func sell(ctx context.Context, p *program, story demo.Story) error {
	site := story.Setup.Site.Code
	_, key, err := p.store.AddToken(ctx, models.Token{Name: "demo till", Scopes: []string{models.ScopeSales}, Site: site}, story.Now)
	if err != nil {
		return ignoreStop(ctx, err)
	}
	tick := time.NewTicker(tillEvery)
	defer tick.Stop()
	for last := story.Now; ; {
		select {
		case <-ctx.Done():
			return nil
		case now := <-tick.C:
			if away := now.Add(-mostAway); last.Before(away) {
				last = away
			}
			post := models.SalesPost{Source: demo.Source}
			for c := range story.CountsBetween(last, now) {
				post.Counts = append(post.Counts, c)
			}
			if err := postCounts(ctx, p.Address(), site, key, post); err != nil {
				return ignoreStop(ctx, err)
			}
			last = now
		}
	}
}

// ignoreStop is err, unless it came of being stopped.
func ignoreStop(ctx context.Context, err error) error {
	if ctx.Err() == nil {
		return err
	}
	return nil
}

// postCounts posts to the service as a till does. Nothing sold is nothing said.
func postCounts(ctx context.Context, address, site, key string, post models.SalesPost) error {
	if len(post.Counts) == 0 {
		return nil
	}
	body, err := json.Marshal(post)
	if err != nil {
		return err
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, address+"/v1/sites/"+site+"/sales-counts", bytes.NewReader(body))
	if err != nil {
		return err
	}
	r.Header.Set("Authorization", "Bearer "+key)
	r.Header.Set("Content-Type", "application/json")
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		return fmt.Errorf("post what the demo sold: %w", err)
	}
	defer func() { _ = answer.Body.Close() }()
	if answer.StatusCode != http.StatusOK {
		return fmt.Errorf("post what the demo sold: %s", answer.Status)
	}
	return nil
}

// open takes the wished port, or a free one where the default is taken.
func (c *demoCommand) open(ctx context.Context, db string, say func(string, ...any), logTo io.Writer) (*program, error) {
	log := slog.New(slog.NewTextHandler(logTo, &slog.HandlerOptions{Level: slog.LevelWarn}))
	config := serveCommand{DB: db, Listen: fmt.Sprintf("127.0.0.1:%d", c.Port), Grace: 2 * time.Second}
	p, err := open(ctx, config, log)
	if errors.Is(err, syscall.EADDRINUSE) && c.Port == demoPort {
		say("port %d is taken by another program; taking a free one", c.Port)
		config.Listen = "127.0.0.1:0"
		p, err = open(ctx, config, log)
	}
	return p, err
}

// fill makes the invented shop, plans and publishes its weekend, and says where to look.
func (c *demoCommand) fill(ctx context.Context, p *program, say func(string, ...any), s streams) (story demo.Story, err error) {
	now := time.Now()
	story, err = demo.At(now)
	if err != nil {
		return story, err
	}
	site := story.Setup.Site
	say("an invented shop in an invented town: %s", site.Name)
	if err := story.Keep(ctx, p.store, say); err != nil {
		return story, err
	}
	learnt, err := planner.Refit(ctx, p.store, site.Code, now)
	if err != nil {
		return story, err
	}
	if err := p.store.PutForecastState(ctx, site.Code, learnt); err != nil {
		return story, err
	}
	say("the forecast has learnt from the days through %s", learnt.Through)
	plan, sheets, err := jobs.PlanAndPublish(ctx, p.store, planner.GatherQuery{Site: site.Code, From: story.Saturday, Days: c.Days, Now: now})
	if err != nil {
		return story, err
	}
	say("planned %d days from %s: %d batches, %d warnings", plan.Days, plan.From, len(plan.Batches), len(plan.Warnings))
	// How well the forecast and the manager's word have done is found out while people look around.
	night := models.Job{Kind: models.JobRefit, Site: site.Code, Key: string(site.ServiceDayOf(now))}
	if _, err := p.store.Enqueue(ctx, night); err != nil {
		return story, err
	}
	_, secret, err := p.store.AddToken(ctx, models.Token{Name: "demo", Scopes: []string{models.ScopeManage}}, now)
	if err != nil {
		return story, err
	}
	var out bytes.Buffer
	for _, sheet := range sheets {
		if sheet.Date == story.Saturday {
			if err := errors.Join(planner.WriteSheetText(&out, site, sheet), planner.WriteTideText(&out, story.Setup, plan, sheet.Date)); err != nil {
				return story, err
			}
		}
	}
	fmt.Fprintf(&out, "\n%s\n", strings.ReplaceAll(plan.Summary.Text, "\u202f", " "))
	text := out.String()
	if s.isASCII() {
		text = planner.ASCII(text)
	}
	fmt.Fprintf(s.out, "\n%s", text)
	fmt.Fprintf(s.out, "\nOpen     %s/\nSign in  with the access key %s\nShop     %s (invented, as are its sales and weather)\nStop     Ctrl-C; nothing is left behind\n\n",
		p.Address(), secret, site.Code)
	say("ready")
	return story, nil
}

// --- token ---

type tokenCommand struct {
	New    tokenNew    `cmd:"" help:"Make an access key and print it, alone. It is shown this once."`
	List   tokenList   `cmd:"" help:"List the access keys, without their secrets."`
	Revoke tokenRevoke `cmd:"" help:"Revoke an access key."`
}

func (tokenNew) Help() string {
	return `Examples:

    hotday token new --db hotday.db --scope manage --name Ada
    hotday token new --db hotday.db --scope sales --site corner --name till`
}

func (tokenList) Help() string { return "Example:\n\n    hotday token list --db hotday.db" }

func (tokenRevoke) Help() string {
	return "Example:\n\n    hotday token revoke 01J8ZQ6V0000000000000000AA --db hotday.db"
}

type tokenNew struct {
	DB    string   `name:"db" required:"" complete:"file" placeholder:"DSN" help:"The database."`
	Scope []string `required:"" enum:"manage,kitchen,sales,read" help:"What it may do: manage (everything), kitchen (marks, counts, read), sales (counts, weather, off-sale), read; several with commas."`
	Site  string   `placeholder:"CODE" help:"Only this site; left out: the whole organisation."`
	Name  string   `placeholder:"TEXT" help:"What it is for."`
}

func (c *tokenNew) Run(ctx context.Context, s streams) (err error) {
	st, err := store.Open(ctx, c.DB)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	_, secret, err := st.AddToken(ctx, models.Token{Name: c.Name, Scopes: c.Scope, Site: c.Site}, time.Now())
	if err != nil {
		return err
	}
	_, err = fmt.Fprintln(s.out, secret)
	return err
}

type tokenList struct {
	DB string `name:"db" required:"" complete:"file" placeholder:"DSN" help:"The database."`
}

func (c *tokenList) Run(ctx context.Context, s streams) (err error) {
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
		if t.RevokedAt != nil {
			state = "revoked " + t.RevokedAt.Local().Format("2006-01-02 15:04")
		}
		fmt.Fprintf(s.out, "%s  %-24s  %-24s  %-16s  %s\n", t.ID, strings.Join(t.Scopes, ","), cmp.Or(t.Site, "(organisation)"), state, t.Name)
	}
	return nil
}

type tokenRevoke struct {
	ID string `arg:"" help:"The access key's id, as the list shows it."`
	DB string `name:"db" required:"" complete:"file" placeholder:"DSN" help:"The database."`
}

func (c *tokenRevoke) Run(ctx context.Context) (err error) {
	st, err := store.Open(ctx, c.DB)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	return st.RevokeToken(ctx, c.ID, time.Now())
}

// --- version ---

type versionCommand struct{}

func (versionCommand) Help() string { return "Example:\n\n    hotday version" }

func (versionCommand) Run(s streams) error {
	_, err := fmt.Fprintln(s.out, "hotday", version())
	return err
}

// version is the module's version, or the commit that was built.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	if v := info.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	for _, set := range info.Settings {
		if set.Key == "vcs.revision" {
			return set.Value[:min(12, len(set.Value))]
		}
	}
	return "unreleased"
}

type replayCommand struct {
	File   string      `arg:"" optional:"" complete:"season,file" help:"A season document (JSON), a CSV of demand (series,date,demand,open,holiday,temp_c,rain_mm,humidity; .csv), - for JSON on standard input, or the word demo: the invented shop's season."`
	Site   string      `placeholder:"CODE" help:"Relive the history of this site of the database."`
	DB     string      `name:"db" complete:"file" placeholder:"DSN" help:"The database, with --site."`
	From   models.Date `placeholder:"DATE" help:"First day to relive; days before it only teach."`
	Days   int         `placeholder:"N" help:"Relive at most so many days."`
	Replan bool        `help:"Relive, too, the plan made anew every other hour from what has sold."`
	CSV    string      `name:"csv" complete:"file" placeholder:"FILE" help:"Write each day of each method as CSV."`
	SVG    string      `name:"svg" complete:"file" placeholder:"FILE" help:"Draw what each method costs above perfect foresight."`
	Ranges string      `placeholder:"FILE" help:"Draw the forecast's 10–90 % range and what was asked for, day by day. Best with --days 7, or 56."`
	Budget int         `hidden:""`
	Ahead  int         `hidden:""`
	Sim    int         `hidden:""`
}

func (replayCommand) Help() string {
	return `Examples:

    hotday replay demo --svg season.svg
    hotday replay season.csv --from 2026-06-01 --days 60 --csv days.csv
    hotday replay --site corner --db hotday.db --replan`
}

func (c *replayCommand) Run(ctx context.Context, s streams) error {
	season, err := c.season(ctx, s)
	if err != nil {
		return err
	}
	begun := time.Now()
	r, err := replay.Run(ctx, &season, replay.Options{From: c.From, Days: c.Days, Budget: c.Budget, Ahead: c.Ahead, Simulated: c.Sim, Replan: c.Replan, Progress: func(done, of int, date models.Date) {
		if done%7 == 0 || done == of {
			fmt.Fprintf(s.err, "%5.1f s  %s, day %d of %d\n", time.Since(begun).Seconds(), date, done, of)
		}
	}})
	if ctx.Err() != nil {
		return fmt.Errorf("stopped after %d days; nothing is written", len(r.Days))
	}
	if err != nil {
		return err
	}
	for _, out := range []struct {
		file  string
		write func(io.Writer, *replay.Result) error
	}{{c.CSV, replay.WriteCSV}, {c.SVG, replay.WriteSVG}, {c.Ranges, replay.WriteRangesSVG}, {"-", replay.WriteText}} {
		if out.file == "" {
			continue
		}
		var b bytes.Buffer
		if err := out.write(&b, &r); err != nil {
			return err
		}
		if err := writeWhole(out.file, s.out, b.Bytes()); err != nil {
			return err
		}
	}
	return nil
}

func (c *replayCommand) season(ctx context.Context, s streams) (replay.Season, error) {
	switch {
	case (c.File == "") == (c.Site == ""):
		return replay.Season{}, models.Invalid("", "a FILE, or --site CODE with --db DSN", "say one season to relive")
	case c.Site != "":
		return c.siteSeason(ctx)
	case c.File == "demo":
		return demoSeason()
	}
	doc, err := readAll(c.File, s)
	if err != nil {
		return replay.Season{}, err
	}
	if strings.HasSuffix(strings.ToLower(c.File), ".csv") {
		return replay.ParseCSV(bytes.NewReader(doc), filepath.Base(c.File))
	}
	return replay.Parse(doc)
}

// siteSeason is the history of a site up to yesterday.
func (c *replayCommand) siteSeason(ctx context.Context) (_ replay.Season, err error) {
	if c.DB == "" {
		return replay.Season{}, models.Invalid("/db", "--db DSN: the database that holds the site", "no database is named")
	}
	if _, err := os.Stat(c.DB); err != nil {
		return replay.Season{}, models.Errorf(models.CodeNotFound, "the database cannot be read: %v", err)
	}
	st, err := store.Open(ctx, c.DB)
	if err != nil {
		return replay.Season{}, err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	setup, days, err := planner.GatherHistory(ctx, st, c.Site, time.Now())
	if err != nil {
		return replay.Season{}, err
	}
	if len(days) == 0 {
		return replay.Season{}, models.Errorf(models.CodeNotFound, "nothing was counted at %s before today", c.Site)
	}
	season := replay.FromHistory(setup, days)
	return season, season.Validate()
}

// demoSeason is the invented shop's season up to the Tuesday after its hot weekend, always the same.
func demoSeason() (replay.Season, error) {
	story, err := demo.At(time.Date(2026, 7, 10, 15, 0, 0, 0, time.UTC))
	if err != nil {
		return replay.Season{}, err
	}
	loc := story.Setup.Site.Location()
	last := story.Saturday.AddDays(3)
	story.Now = last.AddDays(1).At(0, loc)
	observed := story.Observed().Hours
	drink := map[string]string{}
	for _, m := range demo.Mappings() {
		drink[m.Item] = m.Drink
	}
	var sales iter.Seq[replay.Sale] = func(yield func(replay.Sale) bool) {
		for x := range story.Counts() {
			if d := drink[x.Item]; d != "" && !yield(replay.Sale{Drink: d, Span: models.Span{From: x.WindowStart, To: x.WindowEnd}, Servings: x.Count}) {
				return
			}
		}
	}
	season := replay.FromSales(story.Setup, models.DateOf(observed[0].At, loc), last, sales, observed)
	season.Title = "The shop, its sales and its weather are invented: the demo's season with the hot weekend lived through."
	return season, season.Validate()
}
