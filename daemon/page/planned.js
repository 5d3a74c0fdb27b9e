// What a schedule asks of the vessels and of the cook's hands. Pure: the schedule's document in, rows and words out.
import { dayAndClock, dayClock } from "./text.js";

/**
 * One bar for each stage in its vessel's row, and for each time that the cook is needed; `sure` is where a stage is
 * over at the soonest, or where it is over if its length is certain.
 * @typedef {{dish: string, stage: string, from: number, sure: number, to: number, began: boolean}} Bar
 * @param {any} plan @param {string[]} vessels in the order of the rows
 * @returns {{name: string, bars: Bar[]}[]} only rows with something on them
 */
export function rowsOf(plan, vessels) {
  /** @type {Map<string, Bar[]>} */
  const rows = new Map([...vessels, "elsewhere", "your hands"].map((name) => [name, []]));
  for (const { dish, stages } of plan.dishes) {
    for (const stage of stages) {
      const from = Date.parse(stage.begin), end = Date.parse(stage.end);
      const sure = stage.low_s > 0 ? Math.min(end, from + stage.low_s * 1000) : end, to = Math.max(end, from + (stage.high_s ?? 0) * 1000);
      rows.get(stage.vessel ?? "elsewhere")?.push({ dish, stage: stage.stage, from, sure, to, began: Boolean(stage.began) });
      if (stage.hands_s > 0 && !stage.began) {
        const over = from + stage.hands_s * 1000;
        rows.get("your hands")?.push({ dish, stage: stage.stage, from, sure: over, to: over, began: false });
      }
    }
  }
  return [...rows].filter(([, bars]) => bars.length).map(([name, bars]) => ({ name, bars }));
}

/** From when to when the rows reach: the present, and the last serving or the last end that is certain. @param {any} plan @param {{bars: Bar[]}[]} rows */
export function spanOf(plan, rows) {
  const bars = rows.flatMap((row) => row.bars), from = Date.parse(plan.at);
  const served = plan.dishes.flatMap((/** @type {any} */ d) => [Date.parse(d.serve_at), Date.parse(d.ready_at)]).filter(Number.isFinite);
  const to = Math.max(from + 3_600_000, ...served, ...bars.map((bar) => bar.sure));
  return { from, to: to + (to - from) * 0.04 };
}

/** "9 in 10", never more than what was drawn; "" where no chance is known. @param {number | null | undefined} chance */
export function shareOfTen(chance) {
  if (chance === null || chance === undefined || !Number.isFinite(chance)) return "";
  const tenths = Math.floor(chance * 10 + 1e-9);
  if (chance >= 0.99) return "as good as sure by the plan's own lengths";
  return tenths < 1 ? "less than 1 in 10" : `in time ${tenths} in 10`;
}

const overdue_ms = 6 * 3_600_000;  // a serving time longer past is of a meal that was

/** Dishes that will not be ready when they are served and of which no alarm says so, seen or not. @param {any} plan null: there is none yet @param {any[]} alarms */
export function lateOnes(plan, alarms) {
  const late = (plan?.dishes ?? []).filter((/** @type {any} */ d) => ["late", "impossible"].includes(d.state) && Date.parse(d.serve_at) > Date.parse(plan.at) - overdue_ms);
  return late.map((/** @type {any} */ d) => d.dish).filter((/** @type {string} */ name) => !alarms.some((a) => a.alarm === "late-for-serving" && a.active && a.subject === name));
}

/**
 * "Served at 17:00; ready about 12:32 (13:56 if it takes long); rest follows about 12:12."
 * @param {any} dish @param {string} present when it was planned
 */
export function plannedText(dish, present) {
  const at = (/** @type {string} */ iso) => dayClock(iso, present), ready = dish.ready_at && at(dish.ready_at), slow = dish.ready_late_at && at(dish.ready_late_at);
  const parts = [dish.serve_at ? `Served at ${at(dish.serve_at)}` : "No serving time is set"];
  if (ready) parts.push(`ready about ${ready}${slow && slow !== ready ? ` (${slow} if it takes long)` : ""}`);
  const sure = dish.serve_at ? shareOfTen(dish.chance) : "";
  if (sure) parts.push(sure);
  const next = dish.stages.find((/** @type {any} */ stage) => !stage.began), runs = dish.stages.some((/** @type {any} */ stage) => stage.began);
  // What follows a stage that runs begins when that one is over, whenever it could begin at the latest.
  if (next && dish.state !== "impossible") parts.push(runs ? `${next.stage} follows about ${at(next.begin)}`
    : `begin ${next.stage} at ${at(next.begin)}${Date.parse(next.latest_begin) > Date.parse(next.begin) && dish.state !== "late" ? `, at ${at(next.latest_begin)} at the latest: it is less sure then` : ""}`);
  return `${parts.join("; ")}.`;
}

/** When a dish is to be on the table, as its card says it; "" = nothing is said, or it is long past. Pure. @param {string | null} serve_at @param {string | null} present */
export function servedText(serve_at, present) {
  if (!serve_at || !present) return "";
  const left = Date.parse(serve_at) - Date.parse(present);
  if (left < -overdue_ms) return "";
  return `${left < 0 ? "was to be served" : "to be served"} at ${left > 6 * 86_400_000 ? dayAndClock(serve_at) : dayClock(serve_at, present)}`;
}

/** The next full hours by the kitchen's clock, at least a quarter of an hour ahead. Pure. @param {number} ms now @param {number} offset minutes @returns {{at: string, word: string}[]} */
export function servingHours(ms, offset) {
  const hour = 3_600_000, local = ms + offset * 60_000, first = Math.ceil((local + 900_000) / hour) * hour;
  return [0, 1, 2, 3, 4, 5, 6, 7].map((n) => {
    const at = new Date(first + n * hour).toISOString(), next = at.slice(0, 10) !== new Date(local).toISOString().slice(0, 10);
    return { at: at.slice(0, 16), word: `${next ? "tomorrow " : ""}${at.slice(11, 16)}` };
  });
}

/** The days that a serving time may be on, by the kitchen's clock. Pure. @param {number} ms now @param {number} offset minutes @returns {{date: string, word: string}[]} */
export function servingDays(ms, offset) {
  const names = ["Sunday", "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday"];
  return [0, 1, 2, 3, 4, 5, 6, 7].map((n) => {
    const day = new Date(ms + offset * 60_000 + n * 86_400_000), date = day.toISOString().slice(0, 10);
    return { date, word: n === 0 ? "today" : n === 1 ? "tomorrow" : `${names[day.getUTCDay()]}, ${date.slice(5)}` };
  });
}
