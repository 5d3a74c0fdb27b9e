// One past cook: its readings on one time line, with zoom, and what was told while it lasted.
import { button, draw, keyed, make, say, show } from "./dom.js";
import { counted, happenedText, inCelsius, inUnit, momentsOf, offsetMinutes, onPage, sign, temperature } from "./text.js";
import { corners, levels, longestStep, pieces, pointsOf, range, ticks, unreadOf } from "./timeline.js";

const reviewHeight = 220, clockHeight = 20, scaleWidth = 40, mostUnread = 20;
const lastOnDisk = 15_000;  // ms; the logbook writes ordinary readings every 10 s
const strokes = ["first-line", "second-line", "third-line"];
const noProbe = "no probe";  // no probe has such a name: what happened is asked for, and no readings

/** A part of a span: closer around the middle, wider, or moved by a quarter. Pure. @param {{from: number, to: number}} shown @param {{from: number, to: number}} whole @param {"closer" | "wider" | "earlier" | "later"} how */
export function zoomed(shown, whole, how) {
  const length = shown.to - shown.from, middle = (shown.from + shown.to) / 2, least = 60_000;
  const wanted = how === "closer" ? Math.max(least, length / 2) : how === "wider" ? length * 2 : length;
  const width = Math.min(wanted, whole.to - whole.from);
  const moved = middle + (how === "earlier" ? -length / 4 : how === "later" ? length / 4 : 0);
  const from = Math.min(Math.max(whole.from, moved - width / 2), whole.to - width);
  return { from, to: from + width };
}

/** @param {string} path */
async function get(path) {
  const answer = await fetch(path, { signal: AbortSignal.timeout(15_000) }), json = await answer.json();
  if (!answer.ok) throw new Error(json.error);
  return json;
}

/**
 * @param {HTMLElement} parent @param {{cook: any, unit: string, probes: string[], subjects: string[]}} about its dish's probes, the medium first; what it is told of
 */
export async function showReview(parent, { cook, unit, probes, subjects }) {
  const offset = offsetMinutes(cook.began), whole = { from: Date.parse(cook.began), to: cook.ended ? Date.parse(cook.ended) : Date.now() };
  const settled = cook.ended ? whole.to + lastOnDisk : Infinity;
  let shown = whole;
  const svg = /** @type {any} */ (draw("svg", { class: "review", role: "img", width: "100%", height: reviewHeight }));
  const legend = make("p", { className: "legend" }), today = make("p", { className: "caution" }, readWith(cook.dish, probes)), trouble = make("p", { className: "failed" }), list = make("ul");
  const turn = (/** @type {string} */ word, /** @type {"closer" | "wider" | "earlier" | "later"} */ how) => button(word, () => { shown = zoomed(shown, whole, how); load(); });
  show(svg, probes.length > 0);
  parent.replaceChildren(legend, today, svg, make("p", { className: "buttons" }, turn("Closer", "closer"), turn("Wider", "wider"), turn("Earlier", "earlier"), turn("Later", "later")), trouble, list);

  /** A cook that goes on, or whose last readings are still on their way to the disk, is followed while it is looked at. */
  async function follow() {
    const last = Date.now() > settled;
    if (!cook.ended && shown === whole) whole.to = Date.now();
    await load();
    if (!last) setTimeout(() => { if (svg.isConnected) follow(); }, 5000);
  }

  async function load() {
    const from = Math.floor(shown.from), to = Math.ceil(shown.to) + 1, grain = Math.max(1, Math.ceil((to - from) / 1000 / 300));
    try {
      const span = `from=${from}&to=${to}`, of = encodeURIComponent(probes.join(",") || noProbe), told = momentsOf(whole.from, whole.to, offset);
      const [history, alarms] = await Promise.all([get(`/api/history?${span}&grain=${grain}%20s&probe=${of}`), get(`/api/alarms?${span}`)]);
      const series = history.series.filter((/** @type {any} */ one) => probes.includes(one.probe));
      drawReview(svg, { ...shown, unit, offset, series, gaps: history.gaps, grain: grain * 1000, told });
      svg.setAttribute("aria-label", `Readings of ${cook.dish} from ${told(from)} to ${told(to)}`);
      legend.replaceChildren(...legendOf(series, unit));
      const mine = (/** @type {any} */ one) => subjects.includes(one.subject);
      listAll(list, history.events.filter((/** @type {any} */ e) => e.event !== "foretold" && mine(e)), alarms.alarms.filter(mine), unreadRows(history.gaps.filter((/** @type {any} */ g) => !g.probe || probes.includes(g.probe)), grain * 1000, told), told);
      say(trouble, "");
    } catch (error) {
      say(trouble, `The readings cannot be shown: ${error}`);
    }
  }
  await follow();
}

/** What the lines are, said before they are believed. Pure. @param {string} dish @param {string[]} probes */
export function readWith(dish, probes) {
  return probes.length ? `Drawn from ${probes.join(" and ")}, which ${probes.length === 1 ? "is the probe" : "are the probes"} of ${dish} today.`
    : `What ${dish} was read with is not known here: it is not in the kitchen any more, or has no probe. Its readings are not drawn.`;
}

/** @param {any[]} series @param {string} unit */
function legendOf(series, unit) {
  return series.map((one, place) => {
    const known = one.mean_c.filter((/** @type {any} */ c) => c !== null);
    const sample = draw("svg", { class: "review", width: 34, height: 10, "aria-hidden": "true" }, draw("line", { class: strokes[place % 3], x1: 0, x2: 34, y1: 5, y2: 5 }));
    const text = known.length ? `${one.probe}: ${temperature(Math.min(...known), unit)} to ${temperature(Math.max(...known), unit)}` : `${one.probe}: no readings`;
    return make("span", { className: "entry" }, sample, ` ${text}`);
  });
}

/** When a probe was not read, and why: the longest of them. Pure. @param {any[]} gaps @param {number} grain ms @param {(ms: number) => string} told */
export function unreadRows(gaps, grain, told) {
  const all = gaps.filter((gap) => gap.to_ms - gap.from_ms >= grain / 2).sort((a, b) => (b.to_ms - b.from_ms) - (a.to_ms - a.from_ms));
  const rows = all.slice(0, mostUnread).map((gap) => ({ t: gap.from_ms, text: `${told(gap.from_ms)} ${gap.probe ?? "nothing"} was not read until ${told(gap.to_ms)}: ${gap.reason}` }));
  const more = all.length - rows.length;
  return more > 0 ? rows.concat({ t: all[mostUnread].from_ms, text: `and ${counted(more, "shorter time", "shorter times")} without a reading` }) : rows;
}

/** @param {HTMLElement} list @param {any[]} events @param {any[]} alarms @param {{t: number, text: string}[]} unread @param {(ms: number) => string} told */
function listAll(list, events, alarms, unread, told) {
  const rows = events.map((e) => ({ t: e.t_ms, text: `${told(e.t_ms)} ${happenedText(e)}` }))
    .concat(alarms.map((a) => ({ t: Date.parse(a.raised), text: `${told(Date.parse(a.raised))} ${a.priority} alarm: ${a.text}${a.cleared ? ` Over at ${told(Date.parse(a.cleared))}.` : ""}` })), unread)
    .sort((a, b) => a.t - b.t);
  keyed(list, rows, (row) => `${row.t} ${row.text}`, (row) => ({ element: make("li", {}, onPage(row.text)), update: () => {} }));
}

/** @param {SVGElement} svg @param {{from: number, to: number, unit: string, offset: number, series: any[], gaps: any[], grain: number, told: (ms: number) => string}} shown */
function drawReview(svg, shown) {
  const width = Math.max(280, svg.clientWidth || 320), bottom = reviewHeight - clockHeight, span = range(shown.series.flatMap((s) => s.mean_c.filter((/** @type {any} */ c) => c !== null)));
  const x = (/** @type {number} */ t) => scaleWidth + (t - shown.from) / (shown.to - shown.from) * (width - scaleWidth);
  const y = (/** @type {number} */ c) => 6 + (span.high - c) / (span.high - span.low) * (bottom - 6);
  const most = shown.told(shown.from).length > 5 ? 3 : 5;  // a day's name takes room
  const seconds = (shown.to - shown.from) / 1000, step = [60, 300, 900, 1800, 3600, 7200, 14_400, 43_200, 86_400, 172_800].find((s) => seconds / s <= most) ?? 604_800;
  const shift = shown.offset * 60_000;
  svg.setAttribute("viewBox", `0 0 ${width} ${reviewHeight}`);
  svg.replaceChildren(
    ...ticks(shown.from + shift, shown.to + shift, step).flatMap((t) => [
      draw("line", { class: "grid", x1: x(t - shift), x2: x(t - shift), y1: 6, y2: bottom }),
      ...(x(t - shift) > width - shown.told(t - shift).length * 3.5 ? [] : [draw("text", { x: x(t - shift), y: reviewHeight - 5, "text-anchor": "middle" }, shown.told(t - shift))])]),
    ...levels(inUnit(span.low, shown.unit), inUnit(span.high, shown.unit)).flatMap(({ value, text }) => {
      const at = y(inCelsius(value, shown.unit));
      return [draw("line", { class: "grid", x1: scaleWidth, x2: width, y1: at, y2: at }), draw("text", { class: "level", x: scaleWidth - 4, y: at + 4, "text-anchor": "end" }, text)];
    }),
    draw("text", { x: scaleWidth - 4, y: reviewHeight - 5, "text-anchor": "end" }, sign(shown.unit)),
    ...shown.series.flatMap((one, place) => {
      const points = pointsOf(one);
      return pieces(points, longestStep(points, shown.grain), unreadOf(shown.gaps, one.probe, shown.grain)).map((piece) =>
        draw("polyline", { class: strokes[place % 3], points: corners(piece, x, y) }));
    }),
  );
}
