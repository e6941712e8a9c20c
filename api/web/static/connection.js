// A connection to the live events that lasts for weeks. The browser reconnects by itself after the last event that it had; where it gives
// up, or the connection is dead without its knowledge, this opens another one from there.
import { liveURL } from "./live.js";

const KINDS = ["hello", "beat", "plan", "sheet", "mark", "warning", "stock", "setup", "demand"];
const DEAD_MS = 50e3; // a connection without a heartbeat for so long is dead, whatever the browser thinks
const DOUBTFUL_MS = 40e3;
const RETRY_MS = 10e3;

export class Connection {
  #hear;
  #lost;
  #lastEvent = "";
  #heardAt = 0; // by the steady clock
  #timer = 0;
  /** @type {EventSource | null} */
  #source = null;

  /**
   * @param {(event: MessageEvent) => void} hear
   * @param {() => void} lost events may have been missed
   */
  constructor(hear, lost) {
    this.#hear = hear;
    this.#lost = lost;
  }

  get #silentMS() { return performance.now() - this.#heardAt; }

  /** Heartbeats arrive. */
  get alive() { return this.#silentMS < DOUBTFUL_MS; }

  open() {
    clearTimeout(this.#timer);
    this.#source?.close();
    this.#heardAt = performance.now();
    const source = this.#source = new EventSource(liveURL(this.#lastEvent));
    for (const kind of KINDS) {
      source.addEventListener(kind, (event) => {
        this.#heardAt = performance.now();
        this.#lastEvent = event.lastEventId || this.#lastEvent;
        this.#hear(event);
      });
    }
    source.onerror = () => {
      this.#lost();
      if (source.readyState !== EventSource.CLOSED) return;
      clearTimeout(this.#timer);
      this.#timer = setTimeout(() => this.open(), RETRY_MS);
    };
  }

  reopenIfDead() { if (this.#silentMS > DEAD_MS) this.open(); }
}
