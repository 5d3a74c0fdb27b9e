// Cooks that were: a list, the newest first, with the review of each and its readings as a recording.
import { button, byId, keyed, make, say } from "./dom.js";
import { showReview } from "./review.js";
import { dayAndClock } from "./text.js";

/** @type {() => any} */
let present = () => null;

/** Asked for when somebody opens it, not before. @param {() => any} now what /api/now gave last */
export function watchPast(now) {
  present = now;
  byId("past").addEventListener("toggle", () => { if (byId("past").open) load(); });
}

async function load() {
  const list = byId("past-list");
  try {
    const answer = await fetch("/api/cooks?last=365%20days", { signal: AbortSignal.timeout(15_000) });
    const json = await answer.json();
    if (!answer.ok) throw new Error(json.error);
    const cooks = json.cooks.length ? json.cooks : [null];
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
  const title = make("strong", {}, `${cook.cook}: ${cook.dish}`), when = make("span"), readings = make("a", {}, "readings (CSV)"), review = make("div");
  const open = button("Review", () => {
    if (review.firstChild) review.replaceChildren();
    else showReview(review, { cook, unit: present().units });
  }, { "aria-label": `Review of cook ${cook.cook}, ${cook.dish}` });
  const element = make("div", { className: "cook" }, make("p", {}, title, " ", when, " ", readings), make("p", { className: "buttons" }, open), review);
  return { element, update: (/** @type {any} */ now) => {
    say(when, `${[now.food, now.plan].filter(Boolean).join(", ")}; ${dayAndClock(now.began)} to ${now.ended ? dayAndClock(now.ended) : "now"}${now.taken_back ? "; taken back: it counts as not begun" : ""}`);
    const to = now.ended ? `&to=${encodeURIComponent(now.ended)}` : "";
    readings.href = `/api/export?from=${encodeURIComponent(now.began)}${to}`;
    readings.download = `${now.dish}-${now.cook}.csv`;
  } };
}
