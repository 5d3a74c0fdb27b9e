// Cooks that were: a list, with the readings of each as a recording.
import { byId, keyed, make, say } from "./dom.js";
import { dayAndClock } from "./text.js";

/** Asked for when somebody opens it, not before. */
export function watchPast() {
  byId("past").addEventListener("toggle", () => { if (byId("past").open) load(); });
}

async function load() {
  const list = byId("past-list");
  try {
    const answer = await fetch("/api/cooks?last=365%20days", { signal: AbortSignal.timeout(15_000) });
    const json = await answer.json();
    if (!answer.ok) throw new Error(json.error);
    const cooks = json.cooks.length ? [...json.cooks].reverse() : [null];
    keyed(list, cooks, (cook) => cook ? String(cook.cook) : "none", (cook) => cook ? row(cook) : { element: make("p", {}, "No cook yet."), update: () => {} });
  } catch (error) {
    keyed(list, [String(error)], () => "trouble", () => {
      const text = make("p", { className: "failed" });
      return { element: text, update: (why) => say(text, `The past cannot be shown: ${why}`) };
    });
  }
}

/** @param {any} cook */
function row(cook) {
  const title = make("strong", {}, `${cook.cook}: ${cook.dish}`), when = make("span"), readings = make("a", {}, "readings (CSV)");
  return { element: make("p", { className: "cook" }, title, " ", when, " ", readings), update: (/** @type {any} */ now) => {
    say(when, `${[now.food, now.plan].filter(Boolean).join(", ")}; ${dayAndClock(now.began)} to ${now.ended ? dayAndClock(now.ended) : "now"}. The review: ingle review ${now.cook}`);
    const to = now.ended ? `&to=${encodeURIComponent(now.ended)}` : "";
    readings.href = `/api/export?from=${encodeURIComponent(now.began)}${to}`;
    readings.download = `${now.dish}-${now.cook}.csv`;
  } };
}
