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

/**
 * Lines without a stroke over what was not read.
 * @param {{t: number, c: number | null}[]} points in order @param {number} longest ms between two that belong together
 */
export function pieces(points, longest) {
  /** @type {{t: number, c: number}[][]} */
  const out = [];
  let last = -Infinity;
  for (const { t, c } of points) {
    if (c === null || c === undefined) { last = -Infinity; continue; }
    if (t - last > longest) out.push([]);
    out[out.length - 1].push({ t, c });
    last = t;
  }
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
    /** @type {{t: number, c: number | null}[]} */
    this.points = [];
    this.newest = -Infinity;
    this.every_s = 1;  // between the two readings that came last
  }
  /** @param {any} series of /api/history */
  load(series) {
    const newest = series.t_ms.length ? series.t_ms[series.t_ms.length - 1] : -Infinity;
    const later = this.points.filter((p) => p.t > newest);
    this.points = series.t_ms.map((/** @type {number} */ t, /** @type {number} */ i) => ({ t, c: series.mean_c[i] })).concat(later);
  }
  /** @param {number} t @param {number | null} c */
  add(t, c) {
    if (t > this.newest && this.newest > 0) this.every_s = (t - this.newest) / 1000;
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
