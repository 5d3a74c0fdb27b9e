import assert from "node:assert/strict";
import test from "node:test";
import { Hearing } from "../../../../daemon/page/sound.js";

const calm = { alarms: [], timers: [] };
const alarm = (id, priority) => ({ id, priority, state: "unacknowledged", active: true, age_s: 1 });

test("that no word comes is heard after 10 s, and again, until it comes", () => {
  const hearing = new Hearing();
  const heard = [];
  for (let t = 0; t <= 100; t += 0.5) if (hearing.due(calm, t > 2.5 ? t : 0, t)) heard.push(t);
  assert.deepEqual(heard, [10.5, 40.5, 70.5]);
  assert.equal(hearing.due(calm, 0, 101), 0);
  assert.equal(hearing.due(calm, 11, 112), 5, "a second loss is not heard");
});

test("a page that never had word is heard too", () => {
  assert.equal(new Hearing().due(null, 11, 11), 5);
});

test("a timer that runs out while no word comes is heard at once, and once", () => {
  const hearing = new Hearing(), now = { alarms: [], timers: [{ timer: 1, left_s: 6, over: false }, { timer: 2, left_s: 600, over: false }] };
  const heard = [];
  for (let t = 3; t < 10; t += 0.5) if (hearing.due(now, t, t)) heard.push(t);
  assert.deepEqual(heard, [6]);
  assert.equal(hearing.due(now, 0, 20), 0, "while there is word the kitchen tells of its timers itself");
});

test("an alarm that nobody has seen is heard by its priority", () => {
  const hearing = new Hearing();
  const due = (t, ...alarms) => hearing.due({ alarms, timers: [] }, 0, t);
  assert.equal(due(0, alarm(1, "low")), 1);
  assert.equal(due(500, alarm(1, "low")), 0);
  assert.equal(due(501, alarm(1, "low"), alarm(2, "medium")), 3);
  assert.equal(due(560, alarm(2, "medium")), 0);
  assert.equal(due(561, alarm(2, "medium")), 3);
  assert.equal(due(562, alarm(2, "medium"), alarm(3, "high")), 5);
  assert.equal(due(572, alarm(3, "high")), 5);
});

test("what was there before the sound was turned on is not new", () => {
  const hearing = new Hearing();
  hearing.look({ alarms: [alarm(4, "low")] });
  assert.equal(hearing.look({ alarms: [alarm(4, "low")] }).fresh, false);
  assert.equal(hearing.look({ alarms: [alarm(5, "low")] }).fresh, true);
});
