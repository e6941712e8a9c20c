// Documents that wait on this device until the service has them.
import { Refusal, Stored } from "./page.js";

const RETRY_MS = 8000;

/** newKey makes an idempotency key: sending a document twice under it changes nothing. */
export const newKey = () => [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");

/**
 * Outbox sends documents one after the other, oldest first, and keeps those that could not be sent over page loads. Sending one twice
 * must change nothing: an answer may get lost.
 * @template T
 */
export class Outbox {
  /** @type {Stored<T[]>} */
  #stored;
  #handlers;
  #sending = false;
  #timer = 0;

  /**
   * @param {string} name in local storage
   * @param {object} handlers
   * @param {(item: T) => Promise<any>} handlers.send
   * @param {(item: T, answer: any) => void} handlers.accepted
   * @param {(refusal: Refusal, item: T) => void} handlers.refused for good: the item is dropped
   * @param {() => void} handlers.signedOut the items stay
   * @param {() => void} handlers.unreachable the items stay and are sent again soon
   * @param {() => void} handlers.settled after each attempt
   */
  constructor(name, handlers) {
    this.#stored = new Stored(name);
    this.#handlers = handlers;
  }

  /** @returns {T[]} */
  get items() { return this.#stored.value ?? []; }

  get sending() { return this.#sending; }

  /** @param {T} item */
  add(item) {
    this.#stored.value = [...this.items, item];
    this.flush();
  }

  async flush() {
    if (this.#sending) return;
    this.#sending = true;
    clearTimeout(this.#timer);
    try {
      for (let list = this.items; list.length; list = this.items) await this.#deliver(list[0]);
    } catch (error) {
      if (error instanceof Refusal && error.signedOut) this.#handlers.signedOut();
      else {
        this.#handlers.unreachable();
        this.#timer = setTimeout(() => this.flush(), RETRY_MS);
      }
    }
    this.#sending = false;
    this.#handlers.settled();
  }

  /** @param {T} item */
  async #deliver(item) {
    let answer, refusal = null;
    try {
      answer = await this.#handlers.send(item);
    } catch (error) {
      if (!(error instanceof Refusal) || error.signedOut || error.temporary) throw error;
      refusal = error;
    }
    const sent = JSON.stringify(item); // another tab may have sent some of them too
    this.#stored.value = this.items.filter((other) => JSON.stringify(other) !== sent);
    if (refusal) this.#handlers.refused(refusal, item);
    else this.#handlers.accepted(item, answer);
  }
}
