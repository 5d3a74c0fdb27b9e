// One past cook: its readings on one time line, with zoom, and what was told while it lasted.
import { button, draw, keyed, make, say, show } from "./dom.js";
import { capital, counted, happenedText, inCelsius, inUnit, momentsOf, offsetMinutes, onPage, sign, temperature } from "./text.js";
import { corners, levels, longestStep, pieces, pointsOf, range, ticks, unreadOf } from "./timeline.js";

const reviewHeight = 220, clockHeight = 20, scaleWidth = 40, mostUnread = 20;
const lastOnDisk = 15_000;  // ms; the logbook writes ordinary readings every 10 s
const strokes = ["first-line", "second-line", "third-line", "fourth-line"];
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

/** @typedef {{from: number, to: number}} During ms */
/** @typedef {{probe: string, of: string, during: During[]}} Line of: "core", or the vessel whose medium it was */

/**
 * What a cook was read with and when, as the logbook has it; null: not known. Where it began and ended, what was read at its edges belongs to it. Pure.
 * @param {any} cook of /api/cooks @returns {{lines: Line[], vessels: Line[]} | null}
 */
export function readOf(cook) {
  if (!cook.read_with) return null;
  const near = (/** @type {string} */ one, /** @type {string | null} */ other) => other !== null && Math.abs(Date.parse(one) - Date.parse(other)) < 2000;
  /** @param {any[]} places @returns {Line[]} */
  const linesOf = (places) => {
    /** @type {Line[]} */
    const out = [];
    for (const { vessel, probe, from, to } of places) {
      const during = { from: near(from, cook.began) ? -Infinity : Date.parse(from), to: !to || near(to, cook.ended) ? Infinity : Date.parse(to) };
      const known = out.find((one) => one.of === (vessel ?? "core") && one.probe === (probe ?? ""));
      if (known) known.during.push(during);
      else out.push({ probe: probe ?? "", of: vessel ?? "core", during: [during] });
    }
    return out;
  };
  const vessels = linesOf(cook.read_with.vessels);
  return { lines: linesOf(cook.read_with.cores).concat(vessels.filter((one) => one.probe)), vessels };
}

/** Did it belong to the cook between two moments? @param {Line} line @param {number} from @param {number} to */
const touches = (line, from, to) => line.during.some((one) => one.from <= to && one.to >= from);

/** The points of a series that belong to a line, a piece of time after the other: whole grains only, none that reaches beyond it. Pure. @param {Line} line @param {import("./timeline.js").Point[]} points @param {number} grain ms */
export function belonging(line, points, grain) {
  return line.during.map(({ from, to }) => points.filter((p) => p.t >= from && p.t + grain <= to));
}

/** What happened to a cook: to its dish, to a vessel while the dish was in it, to a probe while it read the dish, or to all. Pure. @param {string} dish @param {{lines: Line[], vessels: Line[]} | null} read @param {string} subject @param {number} from @param {number} to */
export function concerns(dish, read, subject, from, to = from) {
  if ([dish, "kitchen", ""].includes(subject)) return true;
  return !!read && (read.vessels.some((one) => one.of === subject && touches(one, from, to)) || read.lines.some((one) => one.probe === subject && touches(one, from, to)));
}

/**
 * @param {HTMLElement} parent @param {{cook: any, unit: string}} about a cook of /api/cooks
 */
export async function showReview(parent, { cook, unit }) {
  const offset = offsetMinutes(cook.began), whole = { from: Date.parse(cook.began), to: cook.ended ? Date.parse(cook.ended) : Date.now() };
  let shown = whole;
  const svg = /** @type {any} */ (draw("svg", { class: "review", role: "img", width: "100%", height: reviewHeight }));
  const legend = make("p", { className: "legend" }), readBy = make("p", { className: "caution" }), trouble = make("p", { className: "failed" }), list = make("ul");
  const turn = (/** @type {string} */ word, /** @type {"closer" | "wider" | "earlier" | "later"} */ how) => button(word, () => { shown = zoomed(shown, whole, how); load(); });
  parent.replaceChildren(legend, readBy, svg, make("p", { className: "buttons" }, turn("Closer", "closer"), turn("Wider", "wider"), turn("Earlier", "earlier"), turn("Later", "later")), trouble, list);

  /** A cook that goes on, or whose last readings are still on their way to the disk, is followed while it is looked at. */
  async function follow() {
    const last = cook.ended && Date.now() > Date.parse(cook.ended) + lastOnDisk;
    await load(!cook.ended);
    if (!last) setTimeout(() => { if (svg.isConnected) follow(); }, 5000);
  }

  /** It may have gone into another vessel, or have ended. */
  async function askAgain() {
    const { cooks } = await get(`/api/cooks?from=${whole.from}&to=${whole.from + 1}`);
    cook = cooks.find((/** @type {any} */ one) => one.cook === cook.cook) ?? cook;
    if (shown === whole) whole.to = cook.ended ? Date.parse(cook.ended) : Date.now();
  }

  async function load(again = false) {
    try {
      if (again) await askAgain();
      const from = Math.floor(shown.from), to = Math.ceil(shown.to) + 1, grain = Math.max(1, Math.ceil((to - from) / 1000 / 300));
      const told = momentsOf(whole.from, whole.to, offset), read = readOf(cook), lines = read?.lines ?? [];
      const span = `from=${from}&to=${to}`, of = encodeURIComponent([...new Set(lines.map((one) => one.probe))].join(",") || noProbe);
      const [history, alarms] = await Promise.all([get(`/api/history?${span}&grain=${grain}%20s&probe=${of}`), get(`/api/alarms?${span}`)]);
      const drawn = lines.map((line) => {
        const series = history.series.find((/** @type {any} */ one) => one.probe === line.probe), points = series ? pointsOf(series) : [];
        return { line, grain: longestStep(points, grain * 1000), points: belonging(line, points, grain * 1000) };
      });
      say(readBy, readWith(cook.dish, read && lines, told));
      show(svg, lines.length > 0);
      drawReview(svg, { ...shown, unit, offset, drawn, gaps: history.gaps, grain: grain * 1000, told });
      svg.setAttribute("aria-label", `Readings of ${cook.dish} from ${told(from)} to ${told(to)}`);
      legend.replaceChildren(...legendOf(drawn, unit));
      const events = history.events.filter((/** @type {any} */ e) => e.event !== "foretold" && concerns(cook.dish, read, e.subject, e.t_ms));
      const raised = alarms.alarms.filter((/** @type {any} */ a) => concerns(cook.dish, read, a.subject, Date.parse(a.raised), a.cleared ? Date.parse(a.cleared) : Infinity));
      const gaps = history.gaps.filter((/** @type {any} */ g) => !g.probe || lines.some((one) => one.probe === g.probe && touches(one, g.from_ms, g.to_ms)));
      listAll(list, events, raised, unreadRows(gaps, grain * 1000, told), told);
      say(trouble, "");
    } catch (error) {
      say(trouble, `The readings cannot be shown: ${error}`);
    }
  }
  await follow();
}

/** What the lines are, said before they are believed. Pure. @param {string} dish @param {Line[] | null} lines @param {(ms: number) => string} told */
export function readWith(dish, lines, told) {
  if (!lines) return `What ${dish} was read with is not known: the logbook has no kitchen file of that time with this dish. No readings are drawn.`;
  if (!lines.length) return `${capital(dish)} had no probe of its own, and was in no vessel that has one. No readings are drawn.`;
  const during = (/** @type {During} */ { from, to }) => from === -Infinity ? to === Infinity ? "" : ` until ${told(to)}` : to === Infinity ? ` from ${told(from)}` : ` from ${told(from)} to ${told(to)}`;
  const parts = lines.map((one) => `${one.probe} (${one.of === "core" ? "core" : `in ${one.of}`}${one.during.map(during).join(" and")})`);
  return `Read with ${parts.length > 1 ? `${parts.slice(0, -1).join(", ")} and ` : ""}${parts[parts.length - 1]}.`;
}

/** @typedef {{line: Line, grain: number, points: import("./timeline.js").Point[][]}} Drawn grain: the longest step between two points of a line */

/** @param {Drawn[]} drawn @param {string} unit */
function legendOf(drawn, unit) {
  return drawn.map(({ line, points }, place) => {
    const known = points.flat().flatMap((p) => p.c ?? []);
    const sample = draw("svg", { class: "review", width: 34, height: 10, "aria-hidden": "true" }, draw("line", { class: strokes[place % strokes.length], x1: 0, x2: 34, y1: 5, y2: 5 }));
    const text = known.length ? `${temperature(Math.min(...known), unit)} to ${temperature(Math.max(...known), unit)}` : "no readings";
    return make("span", { className: "entry" }, sample, ` ${line.probe} (${line.of}): ${text}`);
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

/** @param {SVGElement} svg @param {{from: number, to: number, unit: string, offset: number, drawn: Drawn[], gaps: any[], grain: number, told: (ms: number) => string}} shown */
function drawReview(svg, shown) {
  const width = Math.max(280, svg.clientWidth || 320), bottom = reviewHeight - clockHeight, span = range(shown.drawn.flatMap(({ points }) => points.flat().flatMap((p) => p.c ?? [])));
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
    ...shown.drawn.flatMap(({ line, grain, points }, place) => {
      const unread = unreadOf(shown.gaps, line.probe, shown.grain);
      return points.flatMap((some) => pieces(some, grain, unread)).map((piece) =>
        draw("polyline", { class: strokes[place % strokes.length], points: corners(piece, x, y) }));
    }),
  );
}
