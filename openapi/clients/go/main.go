// The program that the contract's Go client is tested with: it signs in with a key, sets a shop up, posts counts, plans, publishes,
// reads the prep sheet, and reads a problem. The client is generated beside it: go tool oapi-codegen -config config.yaml CONTRACT.
package main

import (
	"context"
	"encoding/json"
	"fmt"
	"log"
	"net/http"
	"os"
	"time"

	"client/hotday"
)

func main() {
	log.SetFlags(0)
	address, key := os.Args[1], os.Getenv("HOTDAY_KEY")
	var setup hotday.Setup
	if err := json.NewDecoder(os.Stdin).Decode(&setup); err != nil {
		log.Fatal("the set-up: ", err)
	}
	if err := run(context.Background(), address, key, setup); err != nil {
		log.Fatal(err)
	}
}

func run(ctx context.Context, address, key string, setup hotday.Setup) error {
	withKey := func(_ context.Context, req *http.Request) error {
		req.Header.Set("Authorization", "Bearer "+key)
		return nil
	}
	c, err := hotday.NewClientWithResponses(address, hotday.WithRequestEditorFn(withKey))
	if err != nil {
		return err
	}
	session, err := c.PostSessionWithResponse(ctx, hotday.SessionBody{Key: &key})
	if err != nil || session.JSON201 == nil {
		return failed("sign in", session.StatusCode(), session.Body, err)
	}
	fmt.Println("signed in with", session.JSON201.Token.Scopes)

	site := setup.Site.Code
	stored, err := c.PutSetupWithResponse(ctx, site, nil, setup)
	if err != nil || stored.JSON201 == nil {
		return failed("set up", stored.StatusCode(), stored.Body, err)
	}
	fmt.Println("set up", *stored.JSON201.Site.Name)
	for i, d := range stored.JSON201.Brewers { // a 32-bit float would have rounded
		if d.MaxBeverageG != setup.Brewers[i].MaxBeverageG {
			return fmt.Errorf("%s holds %v g, sent %v g", d.Code, d.MaxBeverageG, setup.Brewers[i].MaxBeverageG)
		}
	}

	at := time.Now().Truncate(time.Hour).Add(-time.Hour)
	counts := hotday.SalesPost{Source: "till-1", Counts: []hotday.SalesCount{
		{Item: "GLASS", WindowStart: at, WindowEnd: at.Add(15 * time.Minute), Count: 7}}}
	result, err := c.PostSalesCountsWithResponse(ctx, site, nil, counts)
	if err != nil || result.JSON200 == nil {
		return failed("post counts", result.StatusCode(), result.Body, err)
	}
	fmt.Println("counts:", result.JSON200.New, "new")

	var day hotday.PlanBody
	day.From.Time, day.Days = time.Now().AddDate(0, 0, 1), 1
	servings := 34.5
	rows := []hotday.ExpectedDemand{{Date: day.From, DayPart: setup.Site.DayParts[0].Code, Drink: setup.Drinks[0].Code, Expected: &servings}}
	expected, err := c.PutExpectedDemandWithResponse(ctx, site, hotday.ExpectedBody{Rows: rows})
	if err != nil || expected.JSON200 == nil {
		return failed("expect", expected.StatusCode(), expected.Body, err)
	}
	planned, err := c.PostPlanWithResponse(ctx, site, nil, day)
	if err != nil || planned.JSON201 == nil {
		return failed("plan", planned.StatusCode(), planned.Body, err)
	}
	plan, err := c.GetPlanWithResponse(ctx, site, "latest", nil)
	if err != nil || plan.JSON200 == nil {
		return failed("read the plan", plan.StatusCode(), plan.Body, err)
	}
	fmt.Println("plan revision", plan.JSON200.Revision)
	published, err := c.PostPublishWithResponse(ctx, site, "latest", hotday.PostPublishJSONRequestBody{})
	if err != nil || published.JSON200 == nil {
		return failed("publish", published.StatusCode(), published.Body, err)
	}
	sheet, err := c.GetPrepSheetWithResponse(ctx, site, day.From, nil)
	if err != nil || sheet.JSON200 == nil {
		return failed("read the sheet", sheet.StatusCode(), sheet.Body, err)
	}
	fmt.Println("sheet of revision", sheet.JSON200.Revision)

	counts.Counts[0].WindowEnd = at
	refused, err := c.PostSalesCountsWithResponse(ctx, site, nil, counts)
	if err != nil || refused.ApplicationproblemJSON422 == nil || refused.ApplicationproblemJSON422.Errors == nil {
		return failed("see the problem", refused.StatusCode(), refused.Body, err)
	}
	problem := refused.ApplicationproblemJSON422
	fmt.Println("problem", problem.Type, "at", (*problem.Errors)[0].Pointer)
	return nil
}

func failed(what string, status int, body []byte, err error) error {
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	return fmt.Errorf("%s: status %d: %s", what, status, body)
}
