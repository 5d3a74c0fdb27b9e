// The link to the daemon: asks for the present every second, listens to its events, and knows when it is lost.

const ask_every_ms = 1000, answer_limit_ms = 1400;  // together under the 3 s in which a loss must be told

/** Seconds since a moment, a sleep of the phone included. */
export class Stopwatch {
  steady = 0;
  wall = 0;
  constructor() { this.restart(); }
  restart() { this.steady = performance.now(); this.wall = Date.now(); }
  seconds() { return Math.max(performance.now() - this.steady, Date.now() - this.wall, 0) / 1000; }
}

export class Link {
  /** @param {{news: () => void, reading: (reading: any) => void, opened: () => void}} told */
  constructor(told) {
    this.told = told;
    /** @type {any} */
    this.now = null;
    /** @type {"asking" | "live" | "lost" | "sign-in" | "refused"} */
    this.state = "asking";
    this.why = "";
    this.since = new Stopwatch();
    this.busy = false;
    this.again = false;
  }

  start() {
    this.listen();
    this.refresh();
    setInterval(() => this.refresh(), ask_every_ms);
    document.addEventListener("visibilitychange", () => { if (!document.hidden) this.refresh(); });
    addEventListener("online", () => this.refresh());
    addEventListener("offline", () => this.refresh());
  }

  /** True while what is shown is not of this moment. */
  get lost() { return this.state !== "live" || this.since.seconds() > 2.8; }

  async refresh() {
    if (this.busy) { this.again = true; return; }
    this.busy = true;
    try {
      const answer = await fetch("/api/now", { signal: AbortSignal.timeout(answer_limit_ms), cache: "no-store" });
      if (answer.ok) {
        this.now = await answer.json();
        this.since.restart();
        this.turn("live", "");
      } else {
        this.turn(answer.status === 401 ? "sign-in" : "refused", (await answer.json()).error ?? "");
      }
    } catch {
      this.turn("lost", "");
    }
    this.busy = false;
    this.told.news();
    if (this.again) { this.again = false; this.refresh(); }
  }

  /** @param {Link["state"]} state @param {string} why */
  turn(state, why) {
    const back = state === "live" && this.state !== "live";
    this.state = state;
    this.why = why;
    if (back) {
      if (this.source?.readyState === EventSource.CLOSED) this.listen();
      this.told.opened();
    }
  }

  listen() {
    this.source?.close();
    const source = this.source = new EventSource("/api/events");
    for (const kind of ["alarm", "event", "forecast"]) source.addEventListener(kind, () => this.refresh());
    source.addEventListener("reading", (event) => this.told.reading(JSON.parse(/** @type {MessageEvent} */ (event).data)));
    source.addEventListener("error", () => this.refresh());
  }
}
