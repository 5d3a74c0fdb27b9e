// Draws a vessel's time line: band, past readings, now, what lies ahead, and what happened on it.
import { draw } from "./dom.js";
import { clock, edgeText, onPage } from "./text.js";
import { corners, doors, edgeLabels, pieces, range, scale, ticks } from "./timeline.js";

const height = 96, foot = 18, head = 4;
/** @type {Record<string, string>} */
const markWords = { note: "note", "topped-up": "topped up", "stage-began": "stage", "stage-ended": "stage" };

/**
 * @param {SVGElement} svg @param {number} width
 * @param {{now: number, past_s: number, ahead_s: number, offset: number, unit: string, band: any, points: any[], longest: number, unread: any[],
 *   events: any[], forecast: {eta: number, low: number | null, high: number | null, what: string, level: number} | null, value: number | null, live: boolean}} shown
 */
export function drawTimeline(svg, width, shown) {
  const levels = shown.points.map((p) => p.c ?? NaN);
  if (shown.value !== null) levels.push(shown.value);
  if (shown.band) levels.push(shown.band.low_c, shown.band.high_c);
  if (shown.forecast) levels.push(shown.forecast.level);
  const domain = { now: shown.now, past_s: shown.past_s, ahead_s: shown.ahead_s, ...range(levels) };
  const inner = height - foot - head, { x, y, nowX } = scale(width, inner, domain);
  const at = (/** @type {number} */ c) => head + y(c), bottom = head + inner;
  const from = shown.now - shown.past_s * 1000, to = shown.now + shown.ahead_s * 1000;
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.replaceChildren(
    draw("rect", { class: "ahead", x: nowX, y: head, width: width - nowX, height: inner }),
    ...bandParts(shown, width, at),
    ...doors(shown.events, shown.now).map((door) => {
      const left = Math.max(0, x(door.from));
      return draw("rect", { class: "door", x: left, y: head, width: Math.max(2, x(door.to) - left), height: inner });
    }),
    ...tickParts(from, to, shown, x, bottom, width),
    ...fanParts(shown, x, at, nowX, width),
    ...pieces(shown.points.filter((p) => p.t >= from), shown.longest, shown.unread).map((piece) => draw("polyline", { class: "past", points: corners(piece, x, at) })),
    draw("line", { class: "now", x1: nowX, x2: nowX, y1: 0, y2: bottom }),
    ...(shown.value === null || !shown.live ? [] : [draw("circle", { class: "here", cx: nowX, cy: at(shown.value), r: 4 })]),
    ...shown.events.filter((e) => markWords[e.event] && e.t_ms >= from).map((e) => {
      const place = x(e.t_ms);
      return draw("path", { class: "event", d: `M${place - 4},${bottom} l4,-8 l4,8 z` }, draw("title", {}, `${clock(e.t_ms, shown.offset)} ${markWords[e.event]}: ${onPage(e.text)}`));
    }),
  );
}

/** @param {any} shown @param {number} width @param {(c: number) => number} at */
function bandParts(shown, width, at) {
  if (!shown.band) return [];
  const top = at(shown.band.high_c), low = at(shown.band.low_c);
  const places = edgeLabels(top, low, height - foot), label = (/** @type {number} */ c) => edgeText(c, shown.band, shown.unit);
  return [
    draw("rect", { class: "band", x: 0, y: top, width, height: Math.max(1, low - top) }),
    draw("line", { class: "edge", x1: 0, x2: width, y1: top, y2: top }),
    draw("line", { class: "edge", x1: 0, x2: width, y1: low, y2: low }),
    draw("text", { x: width - 2, y: places.high, "text-anchor": "end" }, label(shown.band.high_c)),
    draw("text", { x: width - 2, y: places.low, "text-anchor": "end" }, label(shown.band.low_c)),
  ];
}

/** @param {number} from @param {number} to @param {any} shown @param {(ms: number) => number} x @param {number} bottom @param {number} width */
function tickParts(from, to, shown, x, bottom, width) {
  const step = shown.past_s > 30_000 ? 4 * 3600 : shown.past_s > 10_000 ? 3600 : 900;
  const shift = shown.offset * 60_000, nowX = x(shown.now);
  return ticks(from + shift, to + shift, step).flatMap((t) => {
    const place = x(t - shift), near = Math.abs(place - nowX) < 34;
    return [draw("line", { class: "tick", x1: place, x2: place, y1: bottom, y2: bottom + 4 }),
      ...(near || place < 16 || place > width - 16 ? [] : [draw("text", { x: place, y: bottom + 15, "text-anchor": "middle" }, clock(t - shift, shown.offset))])];
  }).concat([draw("text", { class: "now-word", x: nowX, y: bottom + 15, "text-anchor": "middle" }, "now")]);
}

/** From the value now to where it will be, between the earliest and the latest moment. @param {any} shown @param {(ms: number) => number} x @param {(c: number) => number} at @param {number} nowX @param {number} width */
function fanParts(shown, x, at, nowX, width) {
  const { forecast, value } = shown;
  if (!forecast || value === null) return [];
  const moment = (/** @type {number} */ s) => Math.min(width * 2, x(shown.now + s * 1000));
  const low = moment(forecast.low ?? forecast.eta), high = moment(forecast.high ?? forecast.eta), y0 = at(value), y1 = at(forecast.level);
  return [
    draw("path", { class: "fan", d: `M${nowX},${y0} L${low},${y1} L${high},${y1} Z` }),
    draw("line", { class: "middle", x1: nowX, y1: y0, x2: moment(forecast.eta), y2: y1 }),
    draw("line", { class: "interval", x1: low, x2: high, y1, y2: y1 }),
  ];
}
