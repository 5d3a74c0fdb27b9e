// What needs the cook, the most urgent first; then what was seen or shelved; and the timers.
import { askNote, askShelve, askTimer } from "./dialogs.js";
import { button, byId, keyed, make, mark, say, show } from "./dom.js";
import { readyText, stageText } from "./dishes.js";
import { order, testChannel } from "./orders.js";
import { foreseenLate } from "./schedule.js";
import { capital, clockOf, countdown, dayClock, duration, onPage } from "./text.js";
import { asOf, asTold, holding, needed, reminderText, seenOnes, soonestFirst, toldAsleep, unseenFirst, waitsForHand } from "./urgency.js";

/** @typedef {import("./vessels.js").Scene} Scene */

const mostLines = 4;

/** The three questions, answered at the top, what needs the cook first. @param {HTMLElement} list @param {Scene} scene */
export function showGlance(list, scene) {
  const told = asTold(scene), need = needed(scene.now.alarms, scene.now.dishes, foreseenLate(scene.now.alarms));
  const needs = !scene.lost ? capital(need) : `Not known: no word from the kitchen${need === "Nothing" ? "" : `; ${asOf(scene)}${need}`}`;
  const held = holding(scene.now.vessels), begun = scene.now.dishes.filter((/** @type {any} */ d) => d.begun);
  const ready = soonestFirst(begun).slice(0, begun.length > mostLines ? mostLines - 1 : mostLines).map((/** @type {any} */ d) => {
    const forecast = d.forecast?.eta_s === null ? "" : readyText(d, told);
    return { key: d.name, text: onPage(`${d.name}: ${asOf(scene)}${[forecast, stageText(d, told)].filter(Boolean).join("; ")}`) };
  });
  if (ready.length < begun.length) ready.push({ key: "more", text: `and ${begun.length - ready.length} more, below` });
  const rows = [
    { key: "needs", word: "Needs you", state: scene.lost ? "unknown" : need === "Nothing" ? "yes" : "no", lines: [{ key: "1", text: needs }] },
    { key: "holding", word: "Holding", state: scene.lost ? "unknown" : held.answer, lines: [{ key: "1", text: scene.lost ? "Not known: no word from the kitchen" : held.text }] },
    { key: "ready", word: "Ready", state: "", lines: ready.length ? ready : [{ key: "1", text: "No dish has begun" }] },
  ];
  keyed(list, rows, (row) => row.key, (row) => {
    const lines = make("dd"), element = make("div", { className: `answer ${row.key}` }, make("dt", {}, row.word), lines);
    return { element, update: (/** @type {any} */ current) => {
      element.dataset.state = current.state;
      keyed(lines, current.lines, (/** @type {any} */ line) => line.key, () => {
        const line = make("p");
        return { element: line, update: (/** @type {any} */ given) => say(line, given.text) };
      });
    } };
  });
}

/** @param {Scene} scene */
export function showNeeds(scene) {
  const open = unseenFirst(scene.now.alarms), seen = seenOnes(scene.now.alarms);
  const waiting = scene.now.dishes.filter(waitsForHand).filter((/** @type {any} */ d) => !open.some((a) => a.subject === d.name && a.alarm === "stage-over"));
  const items = [...open.map((alarm) => ({ key: `alarm ${alarm.id}`, alarm, dish: null })), ...waiting.map((/** @type {any} */ dish) => ({ key: `dish ${dish.name}`, alarm: null, dish }))];
  show(byId("needs"), items.length + seen.length > 0);
  keyed(byId("needs-list"), items.map((item) => ({ ...item, scene })), (item) => item.key, (item) => item.alarm ? openAlarm(item.alarm) : waitingDish(item.dish));
  show(byId("seen"), seen.length > 0);
  say(byId("seen-title"), `Seen and shelved (${seen.length})`);
  keyed(byId("seen-list"), seen.map((alarm) => ({ alarm, scene })), (item) => String(item.alarm.id), (item) => seenAlarm(item.alarm));
}

/** "leaving band". @param {any} alarm */
function plainName(alarm) {
  return alarm.alarm.replaceAll("-", " ");
}

/** @param {any} alarm */
function openAlarm(alarm) {
  const name = plainName(alarm), about = `${name} of ${alarm.subject}`, text = make("p", { className: "sentence" }), since = make("span", { className: "age" });
  const priority = make("strong", { className: "priority" });
  let current = alarm;
  // Only where the stage that is over waits for a hand: else the next one has begun already.
  const next = button("Next stage", () => order("next", { dish: alarm.subject }), { "aria-label": `Next stage of ${alarm.subject}` });
  const element = make("article", { className: "alarm", "aria-label": about },
    make("header", {}, priority, make("span", { className: "what" }, `${alarm.subject}: ${name}`), since), text,
    make("p", { className: "buttons" },
      button("Acknowledge", () => order("acknowledge", { alarm: alarm.id, by: "page" }), { "aria-label": `Acknowledge ${about}`, className: "first" }), next,
      button("Shelve", async () => {
        const length = await askShelve(onPage(current.text));
        if (length) await order("shelve", { alarm: alarm.id, for: length, by: "page" });
      }, { "aria-label": `Shelve ${about}` })));
  return { element, update: (/** @type {any} */ { alarm: now, scene }) => {
    current = now;
    element.dataset.priority = now.priority;
    say(priority, capital(now.priority));
    say(since, now.active ? `${asOf(scene)}for ${duration(now.age_s + asTold(scene).passed)}` : `over since ${clockOf(now.cleared)}, nobody has seen it`);
    say(text, onPage(now.text));
    show(next, now.alarm === "stage-over" && scene.now.dishes.some((/** @type {any} */ d) => d.name === now.subject && waitsForHand(d)));
  } };
}

/** @param {any} dish */
function waitingDish(dish) {
  const text = make("p", { className: "sentence" });
  const element = make("article", { className: "alarm", "aria-label": `${dish.name} waits` },
    make("header", {}, make("strong", { className: "priority" }, "Waits"), make("span", { className: "what" }, dish.name)), text,
    make("p", { className: "buttons" }, button("Next stage", () => order("next", { dish: dish.name }), { className: "first", "aria-label": `Next stage of ${dish.name}` })));
  element.dataset.priority = "low";
  return { element, update: (/** @type {any} */ { dish: now, scene }) => say(text, capital(asOf(scene) + stageText(now, asTold(scene)))) };
}

/** @param {any} alarm */
function seenAlarm(alarm) {
  const head = make("p"), text = make("p", { className: "sentence" });
  const again = button("Shelve no more", () => order("unshelve", { alarm: alarm.id, by: "page" }), { "aria-label": `Shelve no more: ${plainName(alarm)} of ${alarm.subject}` });
  const element = make("article", { className: "quiet" }, head, text, make("p", { className: "buttons" }, again));
  return { element, update: (/** @type {any} */ { alarm: now }) => {
    const state = now.shelved_until ? `shelved until ${clockOf(now.shelved_until)}`
      : now.muted_by ? "silent for now"
      : now.acknowledged ? `acknowledged at ${clockOf(now.acknowledged)}` : String(now.state).replaceAll("-", " ");
    say(head, `${capital(now.priority)}, ${now.subject}: ${plainName(now)}; ${state}`);
    say(text, onPage(now.text));
    show(again, Boolean(now.shelved_until));
  } };
}

/** @param {HTMLElement} parent @param {Scene} scene */
export function showTimers(parent, scene) {
  const timers = scene.now.timers.length ? scene.now.timers : [null];
  keyed(parent, timers.map((/** @type {any} */ timer) => ({ timer, scene })), ({ timer }) => timer ? String(timer.timer) : "none", ({ timer }) => {
    if (!timer) return { element: make("p", { className: "nothing" }, "No timer runs."), update: () => {} };
    const left = make("strong", { className: "left" }), what = make("span");
    const element = make("p", { className: "timer" }, left, " ", what, " ",
      button("Stop", () => order("stop-timer", { timer: timer.timer }), { "aria-label": `Stop timer ${timer.timer}` }));
    return { element, update: (/** @type {any} */ { timer: now, scene: latest }) => {
      say(left, now.over ? "over" : countdown(now.left_s - latest.passed));
      say(what, now.over ? now.text : `${now.text || `timer ${now.timer}`}, until ${dayClock(now.ends, latest.now.at)}`);
    } };
  });
}

/** What is to be told at a moment, again and again, or when something comes about. @param {HTMLElement} parent @param {Scene} scene */
export function showReminders(parent, scene) {
  keyed(parent, scene.now.reminders.map((/** @type {any} */ reminder) => ({ reminder, scene })), ({ reminder }) => String(reminder.reminder), ({ reminder }) => {
    const what = make("span");
    const element = make("p", { className: "timer" }, what, button("Stop", () => order("stop-reminder", { reminder: reminder.reminder }), { "aria-label": `Stop reminder ${reminder.reminder}` }));
    return { element, update: (/** @type {any} */ { reminder: now, scene: latest }) => say(what, reminderText(now, latest.now.at)) };
  });
}

/** @type {Map<string, any>} what the logbook knows of each channel, over reloads and restarts */
let proofs = new Map();
let provenFor = "";
/** @param {any[]} channels */
async function askProofs(channels) {
  const key = JSON.stringify(channels.map((c) => [c.name, c.delivered, c.trouble]));
  if (key === provenFor) return;
  provenFor = key;
  try {
    const answer = await fetch("/api/notices", { signal: AbortSignal.timeout(15_000) });
    if (answer.ok) proofs = new Map((await answer.json()).channels.map((/** @type {any} */ c) => [c.name, c]));
  } catch {
    provenFor = "";
  }
}

/** @param {any} channel @param {Scene} scene */
function channelText(channel, scene) {
  const proof = proofs.get(channel.name), last = proof?.last_delivered;
  const known = last ? `last delivered ${dayClock(last, scene.now.at ?? last)}` : "nothing delivered that is recorded";
  return `${channel.name} (${channel.kind}): ${channel.trouble ? `does not deliver: ${channel.trouble}` : proof?.state === "unproven" || !proof ? `not proven this week, ${known}` : known}${channel.pending ? `; ${channel.pending} waiting` : ""}`;
}

/** The ways by which notices go out, those with trouble first. @param {HTMLElement} parent @param {Scene} scene */
export function showChannels(parent, scene) {
  const channels = [...scene.now.daemon.channels].sort((a, b) => Number(Boolean(b.trouble)) - Number(Boolean(a.trouble)));
  askProofs(scene.now.daemon.channels);
  keyed(parent, [...channels, null], (channel) => channel ? channel.name : "", (channel) => {
    if (!channel) {
      const asleep = make("p", { className: "nothing" });
      return { element: asleep, update: () => say(asleep, toldAsleep(scene.now.daemon.channels)) };
    }
    const what = make("span");
    const element = make("p", { className: "channel" }, what, button("Test", () => testChannel(channel.name), { "aria-label": `Test the channel ${channel.name}` }));
    return { element, update: (/** @type {any} */ now) => {
      mark(what, "failed", Boolean(now.trouble));
      say(what, channelText(now, scene));
    } };
  });
}

export async function newTimer() {
  const timer = await askTimer();
  if (timer) await order("timer", { for: `${timer.minutes} min`, ...(timer.text ? { text: timer.text } : {}) });
}

export async function newNote() {
  const text = await askNote("Note", ["Tasted", "Turned up", "Turned down", "Topped up", "Guests are here"]);
  if (text) await order("note", { text });
}
