// Shared by the scripts of all pages: the page's data and texts, finding elements, requests to the service and their problems, and
// values kept on this device.

/**
 * @typedef {{ type?: string, errors?: { pointer?: string }[] }} Problem document (RFC 9457); its wording is for programs
 */

/**
 * data returns an element's data attributes. The templates write every attribute that a script reads.
 * @param {Element | EventTarget | null} element
 */
export const data = (element) => /** @type {Record<string, string>} */ (/** @type {HTMLElement} */ (element).dataset);

export const pageData = data(document.body);
export const site = pageData.site ?? "";
export const siteURL = "/v1/sites/" + encodeURIComponent(site);

/** @type {Record<string, string>} */
const texts = JSON.parse(pageData.words ?? "{}");

/**
 * say returns a text of the page, or one that every page has, with its {named} places filled in.
 * @param {string} key
 * @param {Record<string, unknown>} [values]
 */
export const say = (key, values = {}) => filled(texts[key] ?? frameTexts[key], values);

/**
 * @param {string} text
 * @param {Record<string, unknown>} values
 */
function filled(text, values) { return text.replace(/\{(\w+)\}/g, (place, name) => (name in values ? String(values[name]) : place)); }

/** @type {Record<string, string>} */
const frameTexts = JSON.parse(one(document, "meta[name=words]", HTMLMetaElement).content);

/**
 * frameText returns a text that every page has, with its {named} places filled in.
 * @param {string} key
 * @param {Record<string, unknown>} [values]
 */
export const frameText = (key, values = {}) => filled(frameTexts[key], values);

/**
 * sentence begins a text with a capital and ends it with a full stop.
 * @param {string} text
 */
export const sentence = (text) => text.charAt(0).toUpperCase() + text.slice(1) + (/[.!?]$/.test(text) ? "" : ".");

/**
 * maybe returns the element with an id, null where the page has none of this type.
 * @template {Element} [E=HTMLElement]
 * @param {string} id
 * @param {new () => E} [type] HTMLElement if not given
 * @returns {E | null}
 */
export function maybe(id, type) {
  const found = document.getElementById(id);
  return found instanceof (type ?? HTMLElement) ? /** @type {E} */ (/** @type {Element} */ (found)) : null;
}

/**
 * byID returns the element with an id, which the page must have.
 * @template {Element} [E=HTMLElement]
 * @param {string} id
 * @param {new () => E} [type] HTMLElement if not given
 * @returns {E}
 */
export function byID(id, type) {
  const found = maybe(id, type);
  if (!found) throw new Error("this page has no " + (type ?? HTMLElement).name + " #" + id);
  return found;
}

/**
 * one returns the first element that a selector finds, which must be there.
 * @template {Element} [E=HTMLElement]
 * @param {ParentNode} within
 * @param {string} selector
 * @param {new () => E} [type] HTMLElement if not given
 * @returns {E}
 */
export function one(within, selector, type) {
  const found = within.querySelector(selector);
  if (!(found instanceof (type ?? HTMLElement))) throw new Error("no " + (type ?? HTMLElement).name + " is " + selector);
  return /** @type {E} */ (/** @type {Element} */ (found));
}

/**
 * all returns the elements that a selector finds, in the order of the page.
 * @template {Element} [E=HTMLElement]
 * @param {ParentNode} within
 * @param {string} selector
 * @param {new () => E} [_type] HTMLElement if not given
 * @returns {E[]}
 */
export const all = (within, selector, _type) => [.../** @type {NodeListOf<E>} */ (within.querySelectorAll(selector))];

/**
 * clicked returns what was clicked of what a selector finds, null for anything else.
 * @template {Element} [E=HTMLButtonElement]
 * @param {Event} event
 * @param {string} [selector]
 * @returns {E | null}
 */
export const clicked = (event, selector = "button") => (event.target instanceof Element ? event.target.closest(selector) : null);

/**
 * element makes an element with a text.
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} tag
 * @param {string} [text]
 */
export function element(tag, text = "") {
  const made = document.createElement(tag);
  made.textContent = text;
  return made;
}

/** @type {Record<string, string>} sentences by the code of a problem, or by "at." and the name of a field */
const problems = JSON.parse(document.querySelector("meta[name=problems]")?.getAttribute("content") ?? "{}");

/**
 * trouble is the sentence for the code of a problem, for answers that hold none.
 * @param {string} code
 */
export const trouble = (code) => problems[code];

/**
 * troubles words a problem for a person as the server's pages do: a sentence for each field at fault that has one, or one for the code.
 * @param {Problem | null} problem
 */
function troubles(problem) {
  const names = (problem?.errors ?? []).map(({ pointer = "" }) => pointer.split("/").filter((name) => name && !/^\d+$/.test(name)).pop());
  const sentences = new Set(names.map((name) => problems["at." + name]).filter(Boolean));
  return [...sentences].join(" ") || problems[problem?.type?.split("/").pop() ?? ""] || problems.internal;
}

/** Refusal is an answer of the service that is not a success. Its message is for the person. */
export class Refusal extends Error {
  /**
   * @param {number} status
   * @param {Problem | null} problem null where the answer holds none
   */
  constructor(status, problem) {
    super(troubles(problem));
    this.status = status;
  }

  /** The session or the screen's right has ended. */
  get signedOut() { return this.status === 401 || this.status === 403; }

  /** The same request may succeed later. */
  get temporary() { return this.status === 408 || this.status === 429 || this.status >= 500; }
}

let csrf = one(document, "meta[name=csrf]", HTMLMetaElement).content;

/**
 * renewCSRF replaces the token that requests carry.
 * @param {string} token
 */
export function renewCSRF(token) { csrf = token; }

/** csrfToken is what forms send in place of the header. */
export const csrfToken = () => csrf;

/**
 * request sends one request to the service and returns its answer: JSON, or null where there is none. It throws a Refusal for any
 * other answer, and fetch's own error where none came.
 * @param {string} method
 * @param {string} path
 * @param {Omit<RequestInit, "headers"> & { json?: unknown, match?: string, type?: string }} [options] json: the body as a value; match: the entity tag of
 *   the version that may be replaced; type: of a body that is not JSON
 * @returns {Promise<any>}
 */
export async function request(method, path, { json, match, type, ...options } = {}) {
  const headers = new Headers();
  if (csrf) headers.set("X-CSRF-Token", csrf);
  if (match) headers.set("If-Match", match);
  headers.set("Accept-Language", document.documentElement.lang); // the site's, not the browser's
  if (json !== undefined) {
    type = "application/json";
    options.body = JSON.stringify(json);
  }
  if (type) headers.set("Content-Type", type);
  const answer = await fetch(path, { redirect: "manual", ...options, method, headers });
  if (answer.type === "opaqueredirect") throw new TypeError("led elsewhere, as by a network that wants a sign-in");
  const content = answer.status === 204 ? null : await answer.json().catch(() => null);
  if (!answer.ok) throw new Refusal(answer.status, content);
  return content;
}

/**
 * reason is a sentence that says why a request failed.
 * @param {unknown} error
 */
export const reason = (error) => (error instanceof Refusal ? error.message : problems.unreachable);

/**
 * Stored is a value kept on this device as JSON: across page loads where the browser allows it, else as long as the page is open.
 * @template T
 */
export class Stored {
  /** @type {T | null} */
  #memory = null;
  #onlyInMemory = false;
  #name;
  #area;

  /**
   * @param {string} name
   * @param {"localStorage" | "sessionStorage"} [area]
   */
  constructor(name, area = "localStorage") {
    this.#name = name;
    this.#area = area;
  }

  /** @returns {T | null} */
  get value() {
    if (this.#onlyInMemory) return this.#memory;
    try { return JSON.parse(window[this.#area].getItem(this.#name) ?? "null"); } catch { return this.#memory; }
  }

  set value(value) {
    this.#memory = value;
    try {
      if (value === null) window[this.#area].removeItem(this.#name);
      else window[this.#area].setItem(this.#name, JSON.stringify(value));
      this.#onlyInMemory = false;
    } catch {
      this.#onlyInMemory = true;
    }
  }
}
