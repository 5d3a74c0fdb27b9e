// What must begin when for the dishes to be ready when they are served: a sentence for each dish, what is in the way,
// and a row for each vessel and one for the cook's hands.
import { byId, draw, keyed, make, mark, say, show } from "./dom.js";
import { lateOnes, plannedText, rowsOf, spanOf } from "./planned.js";
import { capital, clock, clockOf, dayClock, duration, offsetMinutes, onPage } from "./text.js";
import { ticks } from "./timeline.js";

const plan_every_ms = 60_000, label_px = 88, row_px = 30, foot_px = 22;
/** @type {any} */
let plan = null;
let why = "", asked = -Infinity, rowsDrawn = "";

/** Asked for each minute while somebody looks. @param {boolean} again at once */
export async function askSchedule(again = false) {
  if (document.hidden || (!again && performance.now() - asked < plan_every_ms)) return;
  asked = performance.now();
  try {
    const answer = await fetch("/api/schedule", { signal: AbortSignal.timeout(15_000) });
    const json = await answer.json();
    if (answer.ok) plan = json;
    why = answer.ok ? "" : json.error ?? `the kitchen answered ${answer.status}`;
  } catch {
    why = "the kitchen did not answer";
  }
  rowsDrawn = "";
}

/** By name: what the schedule says will be late, and no alarm says. @param {any[]} alarms @returns {string[]} */
export function foreseenLate(alarms) {
  return why ? [] : lateOnes(plan, alarms);
}

/** @param {any} now what /api/now gave last @param {boolean} lost */
export function showSchedule(now, lost) {
  const section = byId("schedule"), served = plan && plan.dishes.length > 0;
  show(section, Boolean(served || why));
  const old = lost || why;
  say(byId("schedule-state"), why ? `The schedule cannot be told: ${why}.` : lost && served ? `As it was planned at ${clockOf(plan.at)}.` : "");
  show(byId("schedule-state"), Boolean(old));
  if (!served) return;
  keyed(byId("schedule-dishes"), plan.dishes, (dish) => dish.dish, dishLine);
  keyed(byId("schedule-conflicts"), plan.conflicts, (/** @type {any} */ c) => `${c.text} ${c.from}`, conflictPart);
  const left = plan.left_out.map((/** @type {any} */ one) => `${one.dish} is not planned: ${one.why}.`).join(" ");
  say(byId("schedule-left"), left);
  show(byId("schedule-left"), Boolean(left));
  const svg = byId("schedule-chart"), width = section.clientWidth, key = `${width} ${plan.at}`;
  if (width && key !== rowsDrawn) {
    rowsDrawn = key;
    drawRows(svg, width, now);
  }
}

/** @param {string} iso */
function dayTime(iso) {
  return dayClock(iso, plan.at);
}

/** @param {any} first */
function dishLine(first) {
  const state = make("strong", { className: "planned" }), text = make("span"), advice = make("span", { className: "advice" });
  const element = make("li", {}, make("strong", {}, first.dish), " ", state, " ", text, advice);
  return { element, update: (/** @type {any} */ dish) => {
    const words = { fits: "in time", tight: "tight", late: "late", impossible: "cannot be done" };
    say(state, /** @type {Record<string, string>} */ (words)[dish.state] ?? dish.state);
    state.dataset.state = dish.state;
    show(state, Boolean(dish.serve_at) || dish.state === "impossible");
    say(text, plannedText(dish, plan.at));
    say(advice, dish.advice?.length ? ` ${onPage(dish.advice.map(capital).join(". "))}.` : "");
  } };
}

/** @param {any} first */
function conflictPart(first) {
  const text = make("p", { className: "sentence" }), helps = make("p"), remedies = make("ul");
  const element = make("article", { className: "quiet", "aria-label": `In the way: ${first.text}` }, text, helps, remedies);
  return { element, update: (/** @type {any} */ conflict) => {
    say(text, onPage(`In the way: ${conflict.text}.`));
    say(helps, conflict.remedies.length > 1 ? "What helps, the least change first:" : "What helps:");
    show(helps, conflict.remedies.length > 0);
    keyed(remedies, conflict.remedies, (line) => line, (line) => ({ element: make("li", {}, onPage(capital(line))), update: () => {} }));
  } };
}

/** @param {any} svg @param {number} width @param {any} now */
function drawRows(svg, width, now) {
  const names = now.vessels.map((/** @type {any} */ vessel) => vessel.name), rows = rowsOf(plan, names);
  const { from, to } = spanOf(plan, rows), offset = offsetMinutes(plan.at), height = rows.length * row_px + foot_px;
  const x = (/** @type {number} */ ms) => label_px + (Math.min(Math.max(ms, from), to) - from) / (to - from) * (width - label_px - 4);
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.setAttribute("height", height);
  svg.setAttribute("aria-label", `When each vessel and the cook's hands are needed, from ${dayTime(plan.at)} on; the same stands in the list above`);
  svg.replaceChildren(...timeTicks(from, to, offset, x, height - foot_px), ...rows.flatMap((row, place) => rowParts(row, place * row_px, width, x)));
  for (const bar of svg.querySelectorAll("text.bar-name")) mark(bar, "unseen", bar.getComputedTextLength() > Number(bar.dataset.room));
}

/** @param {{name: string, bars: any[]}} row @param {number} top @param {number} width @param {(ms: number) => number} x */
function rowParts(row, top, width, x) {
  return [
    draw("line", { class: "grid", x1: 0, x2: width, y1: top + row_px, y2: top + row_px }),
    draw("text", { class: "row-name", x: 0, y: top + 19 }, row.name.length > 13 ? `${row.name.slice(0, 12)}…` : row.name),
    ...row.bars.flatMap((bar) => {
      const left = x(bar.from), sure = Math.max(2, x(bar.sure) - left), wide = Math.max(sure, x(bar.to) - left);
      const about = draw("title", {}, `${bar.dish}: ${bar.stage}, ${clock(bar.from, offsetMinutes(plan.at))}, lasts ${duration((bar.to - bar.from) / 1000)}${bar.to > bar.sure ? " at the most" : ""}`);
      const name = draw("text", { class: "bar-name", x: left + 4, y: top + 19, "data-room": sure - 6 }, bar.dish);
      return [
        ...(wide > sure ? [draw("rect", { class: "maybe", x: left, y: top + 5, width: wide, height: row_px - 10 })] : []),
        draw("rect", { class: bar.began ? "bar began" : "bar", x: left, y: top + 5, width: sure, height: row_px - 10 }, about), name,
      ];
    }),
  ];
}

/** @param {number} from @param {number} to @param {number} offset @param {(ms: number) => number} x @param {number} bottom */
function timeTicks(from, to, offset, x, bottom) {
  const hours = (to - from) / 3_600_000, step = (hours > 60 ? 24 : hours > 24 ? 12 : hours > 8 ? 4 : hours > 3 ? 1 : 0.5) * 3600;
  const shift = offset * 60_000, edge = x(to);
  return ticks(from + shift, to + shift, step).flatMap((t) => {
    const place = x(t - shift), word = step >= 24 * 3600 ? dayTime(isoOf(t)) : clock(t - shift, offset);
    return [draw("line", { class: "tick", x1: place, x2: place, y1: 0, y2: bottom + 4 }),
      ...(place > edge - 20 ? [] : [draw("text", { x: place, y: bottom + 17, "text-anchor": "middle" }, word)])];
  });
}

/** A local instant as ISO 8601 in the plan's offset. @param {number} local ms of the kitchen's clock */
function isoOf(local) {
  const tail = /(Z|[+-]\d\d:\d\d)$/.exec(plan.at);
  return `${new Date(local).toISOString().slice(0, 19)}${tail ? tail[0] : "Z"}`;
}
