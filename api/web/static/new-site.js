// A new site: fills in the browser's time zone, and a code made from the name until somebody types their own.
import { byID } from "./page.js";

const zone = byID("timezone", HTMLInputElement), name = byID("name", HTMLInputElement), code = byID("code", HTMLInputElement);
const MAX_CODE = 40;

if (!zone.value) zone.value = Intl.DateTimeFormat().resolvedOptions().timeZone ?? "";

let ownCode = code.value !== "";
code.addEventListener("input", () => { ownCode = code.value !== ""; });
name.addEventListener("input", () => {
  if (!ownCode) code.value = name.value.toLowerCase().normalize("NFD").replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "").slice(0, MAX_CODE);
});
