// One past cook: its readings on one time line, with zoom, and what was told while it lasted.
import { button, draw, keyed, make, say } from "./dom.js";
import { clock, clockOf, inUnit, offsetMinutes, rounded, sign, temperature, onPage } from "./text.js";
import { pieces, range, ticks } from "./timeline.js";

const reviewHeight = 220, clockHeight = 20, scaleWidth = 34;
const lastOnDisk = 15_000;  // ms; the logbook writes ordinary readings every 10 s
const strokes = ["first-line", "second-line", "third-line"];

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
  const legend = make("p", { className: "legend" }), trouble = make("p", { className: "failed" }), list = make("ul");
  const turn = (/** @type {string} */ word, /** @type {"closer" | "wider" | "earlier" | "later"} */ how) => button(word, () => { shown = zoomed(shown, whole, how); load(); });
  parent.replaceChildren(legend, svg, make("p", { className: "buttons" }, turn("Closer", "closer"), turn("Wider", "wider"), turn("Earlier", "earlier"), turn("Later", "later")), trouble, list);

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
      const span = `from=${from}&to=${to}`;
      const [history, alarms] = await Promise.all([get(`/api/history?${span}&grain=${grain}%20s&probe=${encodeURIComponent(probes.join(","))}`), get(`/api/alarms?${span}`)]);
      drawReview(svg, { ...shown, unit, offset, series: history.series, probes, gap: grain * 4000 });
      svg.setAttribute("aria-label", `Readings of ${cook.dish} from ${clock(from, offset)} to ${clock(to, offset)}`);
      legend.replaceChildren(...legendOf(history.series, probes, unit));
      const mine = (/** @type {any} */ one) => subjects.includes(one.subject);
      listAll(list, history.events.filter((/** @type {any} */ e) => e.event !== "foretold" && mine(e)), alarms.alarms.filter(mine), offset);
      say(trouble, "");
    } catch (error) {
      say(trouble, `The readings cannot be shown: ${error}`);
    }
  }
  await follow();
}

/** @param {any[]} series @param {string[]} probes @param {string} unit */
function legendOf(series, probes, unit) {
  return series.map((one) => {
    const known = one.mean_c.filter((/** @type {any} */ c) => c !== null);
    const sample = draw("svg", { class: "review", width: 34, height: 10, "aria-hidden": "true" }, draw("line", { class: strokes[probes.indexOf(one.probe) % 3], x1: 0, x2: 34, y1: 5, y2: 5 }));
    const text = known.length ? `${one.probe}: ${temperature(Math.min(...known), unit)} to ${temperature(Math.max(...known), unit)}` : `${one.probe}: no readings`;
    return make("span", { className: "entry" }, sample, ` ${text}`);
  });
}

/** @param {HTMLElement} list @param {any[]} events @param {any[]} alarms @param {number} offset */
function listAll(list, events, alarms, offset) {
  const rows = events.map((e) => ({ t: e.t_ms, text: `${clock(e.t_ms, offset)} ${e.event === "note" ? "note: " : ""}${e.text}` }))
    .concat(alarms.map((a) => ({ t: Date.parse(a.raised), text: `${clockOf(a.raised)} ${a.priority} alarm: ${a.text}${a.cleared ? ` Over at ${clockOf(a.cleared)}.` : ""}` })))
    .sort((a, b) => a.t - b.t);
  keyed(list, rows, (row) => `${row.t} ${row.text}`, (row) => ({ element: make("li", {}, onPage(row.text)), update: () => {} }));
}

/** @param {SVGElement} svg @param {{from: number, to: number, unit: string, offset: number, series: any[], probes: string[], gap: number}} shown */
function drawReview(svg, shown) {
  const width = Math.max(280, svg.clientWidth || 320), bottom = reviewHeight - clockHeight, span = range(shown.series.flatMap((s) => s.mean_c.filter((/** @type {any} */ c) => c !== null)));
  const x = (/** @type {number} */ t) => scaleWidth + (t - shown.from) / (shown.to - shown.from) * (width - scaleWidth);
  const y = (/** @type {number} */ c) => 6 + (span.high - c) / (span.high - span.low) * (bottom - 6);
  const seconds = (shown.to - shown.from) / 1000, step = [60, 300, 900, 1800, 3600, 7200, 14_400, 43_200, 86_400, 172_800].find((s) => seconds / s <= 5) ?? 604_800;
  const shift = shown.offset * 60_000;
  svg.setAttribute("viewBox", `0 0 ${width} ${reviewHeight}`);
  svg.replaceChildren(
    ...ticks(shown.from + shift, shown.to + shift, step).flatMap((t) => [
      draw("line", { class: "grid", x1: x(t - shift), x2: x(t - shift), y1: 6, y2: bottom }),
      ...(x(t - shift) > width - 18 ? [] : [draw("text", { x: x(t - shift), y: reviewHeight - 5, "text-anchor": "middle" }, clock(t - shift, shown.offset))])]),
    ...[0.1, 0.5, 0.9].flatMap((part) => {
      const c = span.low + (span.high - span.low) * part;
      return [draw("line", { class: "grid", x1: scaleWidth, x2: width, y1: y(c), y2: y(c) }), draw("text", { x: scaleWidth - 4, y: y(c) + 4, "text-anchor": "end" }, rounded(inUnit(c, shown.unit), 0))];
    }),
    draw("text", { x: scaleWidth - 4, y: reviewHeight - 5, "text-anchor": "end" }, sign(shown.unit)),
    ...shown.series.flatMap((one) => pieces(one.t_ms.map((/** @type {number} */ t, /** @type {number} */ i) => ({ t, c: one.mean_c[i] })), shown.gap).map((piece) =>
      draw("polyline", { class: strokes[shown.probes.indexOf(one.probe) % 3], points: piece.map((p) => `${x(p.t).toFixed(1)},${y(p.c).toFixed(1)}`).join(" ") }))),
  );
}
