// The program that the contract's TypeScript client is tested with: it signs in with a key, sets a shop up, posts counts, plans,
// publishes, reads the prep sheet, and reads a problem. The types are generated beside it: openapi-typescript CONTRACT -o schema.d.ts.
import { readFileSync } from "node:fs";
import createClient from "openapi-fetch";
import type { components, paths } from "./schema.js";

const baseUrl = process.argv[2] ?? "";
const key = process.env["HOTDAY_KEY"] ?? "";
const setup = JSON.parse(readFileSync(0, "utf8")) as components["schemas"]["Setup"];
const hotday = createClient<paths, "application/json" | "application/problem+json">({ baseUrl, headers: { Authorization: `Bearer ${key}` } });

// got returns the data of an answer, or throws its problem.
function got<T>(what: string, answer: { data?: T; error?: components["schemas"]["Problem"] }): T {
  if (answer.data === undefined) throw new Error(`${what}: ${JSON.stringify(answer.error)}`);
  return answer.data;
}

const session = got("sign in", await hotday.POST("/v1/session", { body: { key } }));
console.log("signed in with", session.token.scopes);

const site = setup.site.code;
const stored = got("set up", await hotday.PUT("/v1/sites/{site}/setup", { params: { path: { site } }, body: setup }));
console.log("set up", stored.site.name);

const at = new Date(Math.floor(Date.now() / 3_600_000 - 1) * 3_600_000);
const window_end = new Date(at.getTime() + 15 * 60_000).toISOString();
const count = { item: "GLASS", window_start: at.toISOString(), window_end, count: 7 };
const post = (counts: components["schemas"]["SalesCount"][]) =>
  hotday.POST("/v1/sites/{site}/sales-counts", { params: { path: { site } }, body: { source: "till-1", counts } });
console.log("counts:", got("post counts", await post([count])).new, "new");

const date = new Date(Date.now() + 24 * 3_600_000).toISOString().slice(0, 10);
const [part, drink] = [setup.site.day_parts[0]?.code ?? "", setup.drinks[0]?.code ?? ""];
const rows = [{ date, day_part: part, drink, expected: 34.5 }];
got("expect", await hotday.PUT("/v1/sites/{site}/expected-demand", { params: { path: { site } }, body: { rows } }));
got("plan", await hotday.POST("/v1/sites/{site}/plans", { params: { path: { site } }, body: { from: date, days: 1 } }));
const plan = got("read the plan", await hotday.GET("/v1/sites/{site}/plans/{rev}", { params: { path: { site, rev: "latest" } } }));
console.log("plan revision", plan.revision);
got("publish", await hotday.POST("/v1/sites/{site}/plans/{rev}/publish", { params: { path: { site, rev: "latest" } }, body: {} }));
const sheet = got("read the sheet", await hotday.GET("/v1/sites/{site}/prep-sheets/{date}", { params: { path: { site, date } } }));
console.log("sheet of revision", sheet.revision);

const refused = await post([{ ...count, window_end: count.window_start }]);
console.log("problem", refused.error?.type, "at", refused.error?.errors?.[0]?.pointer);
