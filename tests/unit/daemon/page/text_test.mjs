import assert from "node:assert/strict";
import test from "node:test";
import * as text from "../../../../daemon/page/text.js";

test("temperatures in the kitchen's unit; what is not a number is no reading", () => {
  assert.equal(text.temperature(100, "degF"), "212.0 °F");
  assert.equal(text.temperature(-0.04, "degC"), "0.0 °C");
  assert.equal(text.temperature(null, "degC"), "no reading");
  assert.equal(text.temperature(NaN, "degC"), "no reading");
  assert.equal(text.bandText({ low_c: 82.2222, high_c: 87.7778 }, "degF"), "180 to 190 °F");
  assert.equal(text.bandText({ low_c: 0.5, high_c: 5 }, "degC"), "0.5 to 5 °C");
  assert.equal(text.bandText(null, "degC"), "no band");
});

test("what is typed becomes a quantity with its unit", () => {
  assert.equal(text.quantity(" 85,5 ", "degC"), "85.5 degC");
  assert.equal(text.quantity("185", "degF"), "185 degF");
  for (const typed of ["185 degF", "185°F", "185 °f", "185F", "185 F"]) assert.equal(text.quantity(typed, "degF"), "185 degF");
  assert.equal(text.quantity("85 °C", "degF"), "85 degC", "the unit that is typed counts");
  assert.equal(text.quantity("-18,5", "degC"), "-18.5 degC");
  for (const typed of ["", "abc", "18 5", "85 K", "8.5.1", "°F"]) assert.equal(text.quantity(typed, "degF"), "", typed);
});

test("lengths of time are rounded before they are split", () => {
  assert.deepEqual([0, 59.4, 59.6, 3599, 3660, 86_400, 97_200].map(text.duration),
    ["0 s", "59 s", "1 min", "1 h", "1 h 01 min", "1 day", "1 day 3 h"]);
  assert.equal(text.duration(-5), "0 s");
  assert.deepEqual([0, 1.2, 61, 3725].map(text.countdown), ["0:00", "0:02", "1:01", "1:02:05"]);
});

test("the clock is the kitchen's, whatever the zone of the phone", () => {
  const iso = "2026-11-26T17:00:00-05:00";
  assert.equal(text.offsetMinutes(iso), -300);
  assert.equal(text.offsetMinutes("2026-11-26T22:00:00.410Z"), 0);
  assert.equal(text.offsetMinutes("2026-11-26T22:00:00+05:45"), 345);
  assert.equal(text.clock(Date.parse(iso), -300), "17:00");
  assert.equal(text.clock(Date.parse(iso) + 7000, -300, true), "17:00:07");
  assert.equal(text.clockOf(iso), "17:00");
  assert.equal(text.clockOf(null), "at an unknown time");
});

test("units have their sign, names that only look so stay", () => {
  assert.equal(text.onPage("rising 3.2 degF/min, 180.0 degF"), "rising 3.2 °F/min, 180.0 °F");
  assert.equal(text.onPage("degFoo"), "degFoo");
});

test("a command of the terminal is never shown: its button is named, or stands beside the sentence", () => {
  assert.equal(text.onPage("goose-roll: rest, until 20 min have passed. Not meant? `ingle back goose-roll`"), "goose-roll: rest, until 20 min have passed.");
  assert.equal(text.onPage("boar went on to rest 2 s ago. On once more: `ingle next boar --again`. Back: `ingle back boar`"), "boar went on to rest 2 s ago.");
  assert.equal(text.onPage("it begins when you have moved the dish and say `ingle next trout`."), "it begins when you have moved the dish and say “Next stage”.");
  assert.equal(text.onPage("`ingle hold stockpot` with a band keeps it watched."), "“Hold” with a band keeps it watched.");
  assert.equal(text.onPage("see `ingle check plan.toml`"), "see “check”");
});

test("another day is named", () => {
  const present = "2026-11-27T09:54:00+01:00";
  assert.equal(text.dayClock("2026-11-27T13:54:00+01:00", present), "13:54");
  assert.equal(text.dayClock("2026-12-01T13:54:00+01:00", present), "Tue 13:54");
  assert.equal(text.dayClock("2026-11-28T00:30:00+01:00", present), "Sat 00:30");
  assert.equal(text.dayClock(null, present), "at an unknown time");
});

test("limits that would read alike have a decimal", () => {
  const narrow = { low_c: 54.6, high_c: 55.4 }, wide = { low_c: 54, high_c: 58 };
  assert.deepEqual([narrow.high_c, narrow.low_c].map((c) => text.edgeText(c, narrow, "degC")), ["55.4", "54.6"]);
  assert.equal(text.edgeText(58, wide, "degC"), "58");
});

test("moments of one day are told by the clock, of several with the day, of many with the date", () => {
  const at = (iso) => Date.parse(iso), from = at("2026-11-27T20:16:00+01:00");
  assert.equal(text.momentsOf(from, at("2026-11-27T23:50:00+01:00"), 60)(from), "20:16");
  assert.equal(text.momentsOf(from, at("2026-11-28T00:10:00+01:00"), 60)(from), "Fri 20:16");
  assert.equal(text.momentsOf(from, at("2026-12-06T00:10:00+01:00"), 60)(from), "11-27 20:16");
});

test("only what the cook noted is called a note", () => {
  const of = (told, event = "note") => text.happenedText({ event, text: told });
  assert.equal(of("Tasted"), "note: Tasted");
  assert.equal(of("turned it down. It boiled."), "note: turned it down. It boiled.");
  assert.equal(of("holding stockpot at 180.0 degF to 190.0 degF."), "holding stockpot at 180.0 °F to 190.0 °F.");
  assert.equal(of("oven is no longer held."), "oven is no longer held.");
  assert.equal(of("timer 1 is set: 20 min, the tart."), "timer 1 is set: 20 min, the tart.");
  assert.equal(of("reminder 2 is stopped."), "reminder 2 is stopped.");
  assert.equal(of("door open", "door-opened"), "door open");
});
