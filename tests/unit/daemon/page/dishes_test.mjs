import assert from "node:assert/strict";
import test from "node:test";
import { readyText, stageText } from "../../../../daemon/page/dishes.js";

test("when a dish is ready: what falls on another day names it", () => {
  const scene = { nowMs: Date.parse("2026-11-27T10:45:00Z"), offset: 60, passed: 0, unit: "degC" };
  const ready = (/** @type {any} */ forecast) => readyText({ begun: true, target_c: 80, forecast: { what: "core-target", ...forecast } }, scene);
  assert.equal(ready({ eta_s: 27_720, low_s: 60, high_s: 88_173 }), "core at 80 °C about 19:27 (11:46 to Sat 12:14)");
  assert.equal(ready({ eta_s: 3600, low_s: null, high_s: null }), "core at 80 °C about 12:45");
  assert.equal(ready({ eta_s: 3600, low_s: null, high_s: null, why: "rough: the readings do not tell much yet" }), "core at 80 °C about 12:45; rough: the readings do not tell much yet");
  assert.equal(ready({ eta_s: null, why: "no reading" }), "core at 80 °C: cannot be told yet, no reading");
});

test("a stage whose time is over and that goes on has no 0 s left", () => {
  const scene = { passed: 60, nowMs: Date.parse("2026-11-27T22:59:00Z"), offset: 60, now: { at: "2026-11-27T23:58:00+01:00" } };
  const stage = (/** @type {number} */ left, more = {}, on = scene) => stageText({ begun: true, stage: "poach", stage_clock: "counts", stage_left_s: left, target_c: null, ...more }, on);
  assert.equal(stage(540), "poach, 8 min left, until Sat 00:07");
  assert.equal(stage(540, { target_c: 75 }), "poach, 8 min left", "where a core ends it too, the clock does not tell its end");
  assert.equal(stage(540, { stage_clock: "waits for its band" }), "poach, 9 min left (waits for its band)");
  assert.equal(stage(540, {}, { ...scene, now: { at: null } }), "poach, 8 min left");
  assert.equal(stage(0), "poach: its time is over, its core is not done yet");
});
