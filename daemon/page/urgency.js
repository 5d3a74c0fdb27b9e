// What comes first. Pure: it orders and counts what the core has judged, and judges nothing itself.
import { clockOf, counted, dayClock, duration, onPage } from "./text.js";

const ranks = /** @type {Record<string, number>} */ ({ high: 0, medium: 1, low: 2 });

/** Nobody has seen it yet. @param {any} alarm */
export function isUnseen(alarm) {
  return alarm.state === "unacknowledged" || alarm.state === "returned-unacknowledged";
}

/** What nobody has seen: what goes on before what is over, then by priority, then the newest. @param {any[]} alarms */
export function unseenFirst(alarms) {
  return alarms.filter(isUnseen).sort((a, b) => Number(b.active) - Number(a.active) || ranks[a.priority] - ranks[b.priority] || a.age_s - b.age_s);
}

/** @param {any[]} alarms */
export function seenOnes(alarms) {
  return alarms.filter((alarm) => !isUnseen(alarm));
}

/** @param {any} dish a dish whose stage is over waits for a hand; its alarm may have been acknowledged */
export function waitsForHand(dish) {
  return dish.begun && String(dish.stage_clock ?? "").startsWith("over");
}

/** Those of one state by their names where they are few, else how many: "oven, smoker warming up", "25 warming up". @param {string[][]} named */
function inGroups(named) {
  const few = named.length <= 3;
  return [...new Set(named.map(([, state]) => state))].map((state) => {
    const names = named.filter((one) => one[1] === state).map(([name]) => name);
    return `${few || names.length === 1 ? names.join(", ") : names.length} ${state}`;
  });
}

/** What waits for a hand, then what is over soonest; what has no end that is known comes last. @param {any[]} dishes that have begun */
export function soonestFirst(dishes) {
  const left = (/** @type {any} */ dish) => waitsForHand(dish) ? -1 : dish.forecast?.eta_s ?? dish.stage_left_s ?? Infinity;
  return [...dishes].sort((a, b) => left(a) === left(b) ? 0 : left(a) - left(b));
}

/**
 * Is everything holding? One sentence from the phases that the core gives.
 * @param {any[]} vessels @returns {{answer: "yes" | "no" | "unknown", text: string}}
 */
export function holding(vessels) {
  const held = vessels.filter((v) => v.band);
  if (!held.length) return { answer: "unknown", text: "Nothing is held to a band." };
  const unknown = held.filter((v) => v.celsius === null || v.celsius === undefined || v.phase === "readings doubtful");
  const away = held.filter((v) => !unknown.includes(v) && !String(v.phase).startsWith("in band"));
  const parts = inGroups(away.map((v) => [v.name, v.phase]).concat(unknown.map((v) => [v.name, "not known"])));
  const fine = held.length - away.length - unknown.length;
  if (!parts.length) return { answer: "yes", text: `Yes, ${held.length === 1 ? held[0].name : `all ${held.length}`} in band` };
  const rest = fine ? `; ${fine} in band` : "";
  return { answer: away.length ? "no" : "unknown", text: `${away.length ? "No" : "Not known"}: ${parts.join("; ")}${rest}` };
}

/** @param {any[]} alarms */
function byPriority(alarms) {
  const counts = ["high", "medium", "low"].map((priority) => ({ priority, count: alarms.filter((a) => a.priority === priority).length }));
  return counts.filter(({ count }) => count).map(({ priority, count }) => `${count} ${priority}`).join(", ");
}

/** How much waits for the cook, in words. @param {any[]} alarms @param {any[]} dishes @param {string[]} late dishes that the schedule does not bring to table in time */
export function needed(alarms, dishes, late = []) {
  const open = unseenFirst(alarms), going = open.filter((a) => a.active), over = open.length - going.length;
  const waiting = dishes.filter(waitsForHand).length;
  const words = [going.length ? `${counted(going.length, "alarm", "alarms")} (${byPriority(going)})` : "",
    waiting ? counted(waiting, "stage waits", "stages wait") : "",
    over ? `${over} over and not seen yet` : "", late.length ? `late for serving: ${late.join(", ")}` : ""].filter(Boolean);
  return words.length ? words.join(", ") : "Nothing";
}

/**
 * What was told last, as it was told: while no word comes, nothing counts on as if it had been seen.
 * @template {{lost: boolean, passed: number, nowMs: number}} T @param {T} scene @returns {T}
 */
export function asTold(scene) {
  return scene.lost ? { ...scene, passed: 0, nowMs: scene.nowMs - scene.passed * 1000 } : scene;
}

/** "as of 20:25: " while no word comes, else "". @param {{lost: boolean, now: any}} scene */
export function asOf(scene) {
  if (!scene.lost) return "";
  return scene.now.at ? `as of ${clockOf(scene.now.at)}: ` : "when there was word last: ";
}

/** "Stir the pot: every 20 min, next at 10:32". @param {any} reminder @param {string | null} present */
export function reminderText(reminder, present) {
  const next = reminder.next ? dayClock(reminder.next, present) : "";
  const when = reminder.due ? "now" : !next ? reminder.waits_for : reminder.every_s ? `${reminder.waits_for}, next at ${next}` : `at ${next}`;
  return onPage(`${reminder.text}: ${when}`);
}

/**
 * The interval of a forecast, less what has passed since it was made.
 * @param {any} forecast @param {number} passed seconds since the answer
 */
export function ahead(forecast, passed) {
  if (!forecast || forecast.eta_s === null || forecast.eta_s === undefined) return null;
  const old = (forecast.age_s ?? 0) + passed, left = (/** @type {number | null} */ s) => s === null || s === undefined ? null : Math.max(0, s - old);
  return { eta: Math.max(0, forecast.eta_s - old), low: left(forecast.low_s), high: left(forecast.high_s) };
}

/**
 * How old a number is, and whether it may still look live.
 * @param {any} value @param {number} passed @param {boolean} lost @param {number} every seconds between its readings
 */
export function ageOf(value, passed, lost, every = 1) {
  const known = value.celsius !== null && value.celsius !== undefined;
  const last = value.last, age = last ? (last.age_s ?? 0) + passed : null;
  const live = known && !lost && !value.fault;
  const young = Math.max(3, 1.5 * every);
  const words = age === null ? "" : live && age < 1.5 ? "now" : `${duration(age)} old`;
  return { live, fading: !live || age === null ? 3 : age < young ? 0 : age < 2 * young ? 1 : 2, words };
}

/**
 * What a phone that is locked or empty still learns: nothing from a page, which cannot sound then.
 * @param {any[]} channels
 */
export function toldAsleep(channels) {
  const page = "A phone that is locked or empty hears nothing from this page.", carry = channels.filter((c) => c.kind !== "heartbeat");
  if (!carry.length) return `No way to send a notice is set: what happens is told here only. ${page}`;
  const names = carry.filter((c) => !c.trouble).map((c) => c.name);
  return `${page} ${names.length ? `What happens then is told by ${names.join(" and ")}.` : "No other way delivers now."}`;
}
