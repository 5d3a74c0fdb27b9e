import assert from "node:assert/strict";
import test from "node:test";
import { ageOf, ahead, asOf, asTold, holding, needed, reminderText, seenOnes, soonestFirst, toldAsleep, unseenFirst, waitsForHand } from "../../../../daemon/page/urgency.js";

const alarm = (id, priority, state, age_s = 10, active = true) => ({ id, priority, state, age_s, active });

test("what goes on and nobody has seen comes first, the highest first", () => {
  const alarms = [alarm(1, "low", "unacknowledged"), alarm(2, "high", "returned-unacknowledged", 5, false), alarm(3, "high", "unacknowledged", 99),
    alarm(4, "high", "acknowledged"), alarm(5, "medium", "shelved"), alarm(6, "high", "unacknowledged", 3)];
  assert.deepEqual(unseenFirst(alarms).map((a) => a.id), [6, 3, 1, 2]);
  assert.deepEqual(seenOnes(alarms).map((a) => a.id), [4, 5]);
  assert.equal(needed(alarms, []), "3 alarms (2 high, 1 low), 1 over and not seen yet");
  assert.equal(needed([], []), "Nothing");
  assert.equal(needed([], [{ begun: true, stage_clock: "over for 2 min" }]), "1 stage waits");
});

test("a stage that is over waits for a hand; a dish that has not begun does not", () => {
  assert.equal(waitsForHand({ begun: true, stage_clock: "over" }), true);
  assert.equal(waitsForHand({ begun: false, stage_clock: "over" }), false);
  assert.equal(waitsForHand({ begun: true, stage_clock: null }), false);
});

test("unknown is never shown as holding", () => {
  const vessel = (name, phase, celsius = 85) => ({ name, phase, celsius, band: {} });
  assert.equal(holding([vessel("pot", "in band"), vessel("oven", "in band, settling")]).answer, "yes");
  const blind = holding([vessel("pot", "in band"), vessel("oven", "in band", null)]);
  assert.equal(blind.answer, "unknown");
  assert.equal(blind.text, "Not known: oven not known; 1 in band");
  assert.equal(holding([vessel("pot", "in band"), vessel("oven", "readings doubtful")]).text, "Not known: oven not known; 1 in band");
  assert.equal(holding([vessel("pot", "above band"), vessel("oven", "no reading", null)]).answer, "no");
  assert.equal(holding([{ name: "hall", phase: "no band", celsius: 20, band: null }]).answer, "unknown");
});

test("a forecast grows shorter with time, and never negative", () => {
  assert.deepEqual(ahead({ eta_s: 100, low_s: 5, high_s: null, age_s: 10 }, 2), { eta: 88, low: 0, high: null });
  assert.equal(ahead({ eta_s: null, why: "too noisy" }, 0), null);
  assert.equal(ahead(null, 0), null);
});

test("a number grows old, and is live only while it is read", () => {
  const value = { celsius: 85, last: { celsius: 85, age_s: 0 } };
  assert.deepEqual(ageOf(value, 1, false), { live: true, fading: 0, words: "now" });
  assert.deepEqual(ageOf(value, 4, false), { live: true, fading: 1, words: "4 s old" });
  assert.deepEqual(ageOf(value, 4, false, 5), { live: true, fading: 0, words: "4 s old" });
  assert.equal(ageOf(value, 0, true).live, false);
  assert.equal(ageOf({ ...value, fault: { kind: "open" } }, 0, false).live, false);
  assert.deepEqual(ageOf({ celsius: null, last: { celsius: 85, age_s: 240 } }, 0, false), { live: false, fading: 3, words: "4 min old" });
  assert.deepEqual(ageOf({ celsius: null, last: null }, 0, false), { live: false, fading: 3, words: "" });
});

test("where many are away from their band they are counted, not named", () => {
  const many = Array.from({ length: 25 }, (_, i) => ({ name: `v${i}`, band: {}, celsius: 21, phase: "warming up" }));
  assert.equal(holding(many).text, "No: 25 warming up");
  assert.equal(holding([...many, { name: "fridge", band: {}, celsius: null, phase: "" }, { name: "pot", band: {}, celsius: 85, phase: "in band" }]).text, "No: 25 warming up; fridge not known; 1 in band");
  assert.equal(holding(many.slice(0, 2)).text, "No: v0, v1 warming up");
});

test("what is ready first, or waits for a hand, comes first", () => {
  const dishes = [{ name: "long", begun: true, stage_left_s: 9000 }, { name: "unknown", begun: true }, { name: "soon", begun: true, forecast: { eta_s: 60 } }, { name: "waits", begun: true, stage_clock: "over since 2 min", stage_left_s: 99 }];
  assert.deepEqual(soonestFirst(dishes).map((d) => d.name), ["waits", "soon", "long", "unknown"]);
});

test("a reminder says when, or what it waits for", () => {
  const at = "2026-11-27T10:12:00Z", one = { text: "stir", waits_for: "every 20 min", next: "2026-11-27T10:32:00Z", every_s: 1200, due: false };
  assert.equal(reminderText(one, at), "stir: every 20 min, next at 10:32");
  assert.equal(reminderText({ ...one, every_s: null, waits_for: "its time", next: "2026-11-28T09:00:00Z" }, at), "stir: at Sat 09:00");
  assert.equal(reminderText({ ...one, next: null, waits_for: "boar at 176.0 degF" }, at), "stir: boar at 176.0 °F");
  assert.equal(reminderText({ ...one, due: true }, at), "stir: now");
});

test("E15: a number ages without the kitchen's help, and a page that slept knows for how long", () => {
  const value = { celsius: 85, last: { celsius: 85, age_s: 1 } };
  assert.deepEqual(ageOf(value, 14, true), { live: false, fading: 3, words: "15 s old" });
  assert.deepEqual(ageOf(value, 14, false), { live: true, fading: 2, words: "15 s old" });
  assert.deepEqual(ageOf(value, 12 * 60 - 1, true), { live: false, fading: 3, words: "12 min old" });
});

test("E18: the page says that it is no alarm while the phone is locked, and whether another way delivers", () => {
  const page = "A phone that is locked or empty hears nothing from this page.";
  assert.equal(toldAsleep([]), `No way to send a notice is set: what happens is told here only. ${page}`);
  assert.equal(toldAsleep([{ name: "outside", kind: "heartbeat", trouble: "" }]), `No way to send a notice is set: what happens is told here only. ${page}`);
  assert.equal(toldAsleep([{ name: "phone", kind: "webhook", trouble: "it answered 403" }]), `${page} No other way delivers now.`);
  assert.equal(toldAsleep([{ name: "phone", kind: "webhook", trouble: "" }, { name: "mail", kind: "email", trouble: "" }, { name: "bell", kind: "buzzer", trouble: "x" }]),
    `${page} What happens then is told by phone and mail.`);
});

test("E18: what came and went while the phone slept is the first thing on it", () => {
  const alarms = [alarm(3, "low", "acknowledged"), alarm(7, "high", "returned-unacknowledged", 900, false)];
  assert.deepEqual(unseenFirst(alarms).map((a) => a.id), [7]);
  assert.equal(needed(alarms, []), "1 over and not seen yet");
});

test("while no word comes, what was told is told as of then and does not count on", () => {
  const scene = { lost: true, passed: 90, nowMs: 1_090_000, now: { at: "2026-11-27T20:25:10+01:00" } };
  assert.equal(asOf(scene), "as of 20:25: ");
  assert.deepEqual([asTold(scene).passed, asTold(scene).nowMs], [0, 1_000_000]);
  assert.equal(asOf({ ...scene, now: { at: null } }), "when there was word last: ");
  assert.equal(asOf({ ...scene, lost: false }), "");
  assert.equal(asTold({ ...scene, lost: false }).passed, 90);
});

test("what will be late for serving needs the cook", () => {
  assert.equal(needed([], [], ["tart", "roll"]), "late for serving: tart, roll");
  assert.equal(needed([], [], []), "Nothing");
});
