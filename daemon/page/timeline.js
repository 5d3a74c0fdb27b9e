// Where things lie on a vessel's time line. Pure: readings and forecasts in, coordinates out.

export const pastShare = 0.66;  // of the width; the rest is what lies ahead

/**
 * @param {number} width @param {number} height @param {{now: number, past_s: number, ahead_s: number, low: number, high: number}} domain
 */
export function scale(width, height, domain) {
  const nowX = width * pastShare;
  const x = (/** @type {number} */ ms) => {
    const s = (ms - domain.now) / 1000;
    return s <= 0 ? nowX + (s / domain.past_s) * nowX : nowX + (s / domain.ahead_s) * (width - nowX);
  };
  const span = domain.high - domain.low || 1;
  return { x, y: (/** @type {number} */ c) => height - ((c - domain.low) / span) * height, nowX };
}

/** The range of temperatures to show: readings, band and where a forecast leads, with a little room. @param {number[]} values */
export function range(values) {
  const known = values.filter((v) => Number.isFinite(v));
  if (!known.length) return { low: 0, high: 100 };
  const low = Math.min(...known), high = Math.max(...known), room = Math.max(1, (high - low) * 0.12);
  return { low: low - room, high: high + room };
}

/** @typedef {{t: number, c: number | null, n?: number}} Point n: readings in it, where that tells how much of its grain was read */
/** @typedef {{from: number, to: number}} Unread ms */

/** The columns of a series as points. The first and the last of them are cut off by the span's ends: their count tells nothing. @param {any} series of /api/history @returns {Point[]} */
export function pointsOf(series) {
  const last = series.t_ms.length - 1;
  return series.t_ms.map((/** @type {number} */ t, /** @type {number} */ i) => ({ t, c: series.mean_c[i], ...(i === 0 || i === last ? {} : { n: series.count?.[i] }) }));
}

/** When a probe was not read, as far as the grain of a picture can show it. @param {any[]} gaps of /api/history @param {string} probe @param {number} grain ms @returns {Unread[]} */
export function unreadOf(gaps, probe, grain) {
  return gaps.filter((gap) => (!gap.probe || gap.probe === probe) && gap.to_ms - gap.from_ms >= grain / 2).map((gap) => ({ from: gap.from_ms, to: gap.to_ms }));
}

/** @param {number[]} values */
function median(values) {
  return [...values].sort((a, b) => a - b)[values.length >> 1];
}

/** The longest time between two points that belong together, in ms, from how often the probe was read. @param {Point[]} points @param {number} grain ms of a point */
export function longestStep(points, grain) {
  const counts = points.flatMap((p) => p.n ?? []), each = counts.length ? counts.reduce((sum, n) => sum + n, 0) / counts.length : 1;
  const steps = points.slice(1).map((p, i) => p.t - points[i].t);
  return Math.max(1.5 * grain + 2.5 * grain / Math.max(1, each), steps.length ? 1.6 * median(steps) : 0);
}

/**
 * Lines without a stroke over what was not read: over an unread time, a step that is too long, or grains of which most was not read.
 * @param {Point[]} points in order @param {number} longest ms between two that belong together @param {Unread[]} unread
 */
export function pieces(points, longest, unread = []) {
  const usual = median(points.flatMap((p) => p.n ?? [])) ?? 0;
  const lacks = points.map((p) => p.n === undefined || usual < 3 ? 0 : Math.max(0, 1 - p.n / usual));
  const between = (/** @type {number} */ i) => (lacks[i - 1] ?? 0) + (lacks[i] ?? 0);
  // Half a grain, where its two neighbours lack no more: the hole is there and not beside it.
  const hole = (/** @type {number} */ i) => between(i) >= 0.8 || (between(i) >= 0.45 && between(i) >= Math.max(between(i - 1), between(i + 1)));
  /** @type {{t: number, c: number}[][]} */
  const out = [];
  /** @type {Point | null} */
  let last = null;
  for (const [i, point] of points.entries()) {
    const { t, c } = point, before = last;
    last = null;
    if (c === null || c === undefined) continue;
    const joined = before && t - before.t <= longest && !hole(i) && !unread.some((gap) => gap.to > before.t && gap.from < t);
    if (!joined) out.push([]);
    out[out.length - 1].push({ t, c });
    last = point;
  }
  return out;
}

/** The corners of a line; one point alone is a dot, which a line of no length would not show. @param {{t: number, c: number}[]} piece @param {(t: number) => number} x @param {(c: number) => number} y */
export function corners(piece, x, y) {
  const all = piece.map((p) => `${x(p.t).toFixed(1)},${y(p.c).toFixed(1)}`);
  return all.length > 1 ? all.join(" ") : `${all[0]} ${(x(piece[0].t) + 0.2).toFixed(1)},${y(piece[0].c).toFixed(1)}`;
}

/** Round values between two, for the lines of a scale, as they are written. @param {number} low @param {number} high @returns {{value: number, text: string}[]} */
export function levels(low, high) {
  const rough = (high - low) / 4, size = 10 ** Math.floor(Math.log10(rough)), step = [1, 2, 5, 10].map((n) => n * size).find((s) => s >= rough) ?? size;
  const decimals = Math.max(0, -Math.floor(Math.log10(step) + 1e-9)), first = Math.ceil(low / step - 1e-9), out = [];
  for (let n = first; n * step <= high + step * 1e-9; n += 1) out.push({ value: n * step, text: (n * step + 0).toFixed(decimals) });
  return out;
}

/** Round moments of the clock between two instants. @param {number} from @param {number} to @param {number} step_s */
export function ticks(from, to, step_s) {
  const step = step_s * 1000, out = [];
  for (let t = Math.ceil(from / step) * step; t <= to; t += step) out.push(t);
  return out;
}

/** Where the names of a band's limits stand: outside it where there is room, and never over each other. @param {number} top of the band @param {number} low its lower edge @param {number} bottom */
export function edgeLabels(top, low, bottom) {
  const line = 12, above = top > 14, below = low < bottom - 14;
  const high = above ? top - 3 : top + 11, under = below ? low + line : low - 3;
  if (under - high >= line) return { high, low: under };
  return above ? { high: under - line, low: under } : { high, low: high + line };
}

/** Open doors as spans, from events in order. @param {any[]} events @param {number} until */
export function doors(events, until) {
  /** @type {{from: number, to: number}[]} */
  const out = [];
  /** @type {number | null} */
  let open = null;
  for (const event of events) {
    if (event.event === "door-opened") open ??= event.t_ms;
    if (event.event === "door-closed" && open !== null) { out.push({ from: open, to: event.t_ms }); open = null; }
  }
  if (open !== null) out.push({ from: open, to: until });
  return out;
}

/**
 * Readings of one probe: those of the logbook, then those that arrive. At most one in `grain` ms, none older than `keep` ms.
 */
export class Track {
  /** @param {number} grain @param {number} keep */
  constructor(grain, keep) {
    this.grain = grain;
    this.keep = keep;
    /** @type {Point[]} */
    this.points = [];
    /** @type {Unread[]} */
    this.told = [];
    /** @type {Unread[]} when nothing arrived here, and the logbook has not been read since */
    this.silent = [];
    this.newest = -Infinity;
    /** @type {number | undefined} */
    this.every_s = undefined;  // between the two readings that came last
  }
  /** When it was not read. */
  get unread() { return [...this.told, ...this.silent]; }
  /** @param {any} series of /api/history @param {any[]} gaps of the same */
  load(series, gaps = []) {
    const newest = series.t_ms.length ? series.t_ms[series.t_ms.length - 1] : -Infinity;
    const later = this.points.filter((p) => p.t > newest);
    this.points = pointsOf(series).concat(later);
    this.told = unreadOf(gaps, series.probe, this.grain);
    // Where the logbook reaches it has the say: a phone that slept heard nothing of what was read.
    this.silent = this.silent.filter((gap) => gap.from > newest + this.grain);
    this.newest = Math.max(this.newest, newest + this.grain);
  }
  /** @param {number} t @param {number | null} c */
  add(t, c) {
    const passed = t - this.newest, missed = passed > Math.max(10_000, 2500 * (this.every_s ?? Infinity));
    if (passed > 0 && this.newest > 0) this.every_s = passed / 1000;
    if (missed) this.silent = this.silent.filter((gap) => gap.to > t - this.keep).concat({ from: this.newest, to: t });
    this.newest = Math.max(t, this.newest);
    const last = this.points[this.points.length - 1];
    if (last && t <= last.t) return;
    const before = this.points[this.points.length - 2];
    // The newest point moves on until it is a grain away from the one before it.
    if (last && before && last.c !== null && c !== null && last.t - before.t < this.grain) this.points.pop();
    this.points.push({ t, c });
    while (this.points.length && this.points[0].t < t - this.keep) this.points.shift();
  }
}
