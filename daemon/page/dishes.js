// Each dish: its stage, its core, when it is ready, and what the food rules say.
import { askServing, confirmed } from "./dialogs.js";
import { button, keyed, make, mark, say, show } from "./dom.js";
import { order, whyNot } from "./orders.js";
import { servedText } from "./planned.js";
import { capital, dayClockAt, duration, temperature, onPage } from "./text.js";
import { ahead, asOf, asTold, waitsForHand } from "./urgency.js";
import { Reading } from "./vessels.js";

/** @typedef {import("./vessels.js").Scene} Scene */

/** @param {HTMLElement} parent @param {Scene} scene */
export function showDishes(parent, scene) {
  const dishes = [...scene.now.dishes].sort((a, b) => Number(b.begun) - Number(a.begun));
  keyed(parent, dishes.map((dish) => ({ dish, scene })), (item) => item.dish.name, dishCard);
}

/** "poach, 1 h 45 min left, until 17:05". @param {any} dish @param {{passed: number, nowMs: number, offset: number, now: any}} scene */
export function stageText(dish, { passed, nowMs, offset, now }) {
  if (!dish.begun) return "not begun";
  const stage = dish.stage ?? "begun", state = String(dish.stage_clock ?? "");
  if (state.startsWith("over")) return `${stage} is ${state}`;
  if (dish.stage_left_s !== null && dish.stage_left_s !== undefined) {
    const counts = state === "counts";
    if (counts && dish.stage_left_s <= 0) return `${stage}: its time is over, its core is not done yet`;
    const left_s = dish.stage_left_s - (counts ? passed : 0);
    // Where a core ends the stage too, the clock alone does not tell its end.
    const until = counts && now.at && !Number.isFinite(dish.target_c) ? `, until ${dayClockAt(nowMs + left_s * 1000, nowMs, offset)}` : "";
    return `${stage}, ${duration(left_s)} left${until}${counts || !state ? "" : ` (${state})`}`;
  }
  return dish.stage_age_s === null || dish.stage_age_s === undefined ? stage : `${stage} for ${duration(dish.stage_age_s + passed)}`;
}

/** When it is ready, as the forecast says it, or why that cannot be told. "" = nothing is forecast. @param {any} dish @param {Scene} scene */
export function readyText(dish, scene) {
  if (!dish.begun || !dish.forecast) return "";
  const interval = ahead(dish.forecast, scene.passed), what = dish.forecast.what === "core-target" ? `core at ${temperature(dish.target_c, scene.unit, 0)}` : dish.forecast.what;
  if (!interval) return dish.forecast.why ? `${what}: cannot be told yet, ${dish.forecast.why}` : "";
  const at = (/** @type {number} */ s) => dayClockAt(scene.nowMs + s * 1000, scene.nowMs, scene.offset);
  const span = interval.low === null || interval.high === null ? "" : ` (${at(interval.low)} to ${at(interval.high)})`;
  return `${what} about ${at(interval.eta)}${span}${dish.forecast.why ? `; ${dish.forecast.why}` : ""}`;
}

/** @param {{dish: any, scene: Scene}} first */
function dishCard(first) {
  const name = first.dish.name, core = new Reading();
  const food = make("p", { className: "band" }), stage = make("p", { className: "stage" }), ready = make("p", { className: "ready" });
  const serving = make("p", { className: "serving" }), target = make("p", { className: "target" }), answer = make("p", { className: "safety" });
  const rules = make("ul", { className: "rules" }), details = make("details", {}, make("summary", {}, "The rules behind it"), rules);
  const tell = (/** @type {string} */ word) => () => order(word, { dish: name });
  const begin = button("Begin", tell("begin"), { "aria-label": `Begin ${name}`, className: "first" });
  const next = button("Next stage", tell("next"), { "aria-label": `Next stage of ${name}` });
  const back = button("Take back", tell("back"), { "aria-label": `Take back the last order to ${name}` });
  const end = button("End", async () => { if (await confirmed(`End the cook of ${name}?`, "End it")) await order("end", { dish: name }); }, { "aria-label": `End ${name}` });
  let last = first;
  const serve = button("Serving time", async () => {
    let before = last.dish.serve_at, why = "";
    for (;;) {
      const at = await askServing(name, { ms: last.scene.nowMs, offset: last.scene.offset }, before, why);
      if (!at || await order("serve", { dish: name, at: at === "none" ? null : at })) return;
      before = at === "none" ? before : at;
      why = whyNot();
    }
  }, { "aria-label": `Serving time of ${name}` });
  const element = make("article", { className: "dish", "aria-labelledby": `dish-${name}` },
    make("header", {}, make("h3", { id: `dish-${name}` }, name), food), stage, serving, core.element, target, ready, answer, details,
    make("p", { className: "buttons" }, begin, next, serve, back, end));
  return { element, update: (/** @type {{dish: any, scene: Scene}} */ { dish, scene }) => {
    last = { dish, scene };
    const inVessel = dish.vessel ? `${dish.begun ? "in" : "for"} ${dish.vessel}` : "";
    say(food, [dish.food, inVessel].filter(Boolean).join(", "));
    const told = asTold(scene);
    say(stage, capital(asOf(scene) + stageText(dish, told)) + (dish.stage_counted_by ? `; ${onPage(dish.stage_counted_by)}` : ""));
    mark(stage, "waits", waitsForHand(dish));
    show(core.element, Boolean(dish.core.probe) && dish.begun);
    if (dish.core.probe) core.update(dish.core, scene.now.probes.find((/** @type {any} */ p) => p.name === dish.core.probe), scene);
    const aim = dish.target_c === null ? "" : `core, target ${temperature(dish.target_c, scene.unit, 0)}`;
    say(target, dish.begun ? aim : "");
    show(target, Boolean(target.textContent));
    const words = readyText(dish, told);
    say(ready, words ? onPage(capital(asOf(scene) + words)) : "");
    show(ready, Boolean(words));
    const served = servedText(dish.serve_at, scene.now.at);
    say(serving, capital(served));
    show(serving, Boolean(served));
    show(serve, Boolean(scene.now.at));
    showRules(dish, answer, details, rules);
    show(begin, !dish.begun);
    show(next, dish.begun);
    show(back, dish.order_age_s !== null);
    show(end, dish.begun);
    mark(next, "first", waitsForHand(dish));
  } };
}

/** @param {any} dish @param {HTMLElement} answer @param {HTMLElement} details @param {HTMLElement} rules */
function showRules(dish, answer, details, rules) {
  const short = dish.verdicts.find((/** @type {any} */ v) => v.rule === "in short"), others = dish.verdicts.filter((/** @type {any} */ v) => v !== short);
  say(answer, short ? onPage(`Food safety: ${short.answer}. ${short.text}`) : "");
  show(answer, Boolean(short));
  show(details, others.length > 0);
  keyed(rules, others, (/** @type {any} */ v) => v.rule, () => {
    const what = make("strong"), text = make("span"), source = make("small");
    return { element: make("li", {}, what, " ", text, " ", source), update: (/** @type {any} */ v) => {
      say(what, `${v.rule}: ${v.answer}.`);
      say(text, onPage(v.text));
      say(source, v.source ? onPage(`Source: ${v.source}.`) : "");
    } };
  });
}
