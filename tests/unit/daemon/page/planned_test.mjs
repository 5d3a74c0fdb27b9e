import assert from "node:assert/strict";
import test from "node:test";
import { lateOnes, plannedText, rowsOf, servedText, servingDays, servingHours, shareOfTen, spanOf } from "../../../../daemon/page/planned.js";

const stage = (name, vessel, begin, end, more = {}) => ({ stage: name, vessel, begin: `2026-11-28T${begin}:00-05:00`, end: `2026-11-28T${end}:00-05:00`, low_s: 0, high_s: 0, hands_s: 0, began: false, ...more });
const plan = {
  at: "2026-11-28T08:00:00-05:00",
  dishes: [
    { dish: "roll", serve_at: "2026-11-28T17:00:00-05:00", ready_at: "2026-11-28T13:20:00-05:00",
      stages: [stage("poach", "stockpot", "11:00", "13:00", { low_s: 7200, high_s: 10800, hands_s: 600 }), stage("carve", null, "13:00", "13:20")] },
    { dish: "tart", serve_at: "2026-11-28T17:00:00-05:00", ready_at: "2026-11-28T16:00:00-05:00",
      stages: [stage("bake", "oven", "08:00", "16:00", { low_s: 1800, hands_s: 600, began: true })] },
  ],
};
const at = (clock) => Date.parse(`2026-11-28T${clock}:00-05:00`);

test("a row for each vessel that is needed, in the kitchen's order, then elsewhere and the hands", () => {
  assert.deepEqual(rowsOf(plan, ["fridge", "oven", "stockpot"]).map((row) => row.name), ["oven", "stockpot", "elsewhere", "your hands"]);
});

test("a bar is sure as far as its shortest length, and may reach as far as its longest", () => {
  const rows = rowsOf(plan, ["stockpot", "oven"]);
  assert.deepEqual(rows[0].bars, [{ dish: "roll", stage: "poach", from: at("11:00"), sure: at("13:00"), to: at("14:00"), began: false }]);
  assert.equal(rows[1].bars[0].sure, at("08:30"));
  assert.equal(rows[1].bars[0].to, at("16:00"));
});

test("hands that were needed at a begin that is past are not asked for again", () => {
  assert.deepEqual(rowsOf(plan, ["stockpot", "oven"]).at(-1).bars.map((bar) => [bar.dish, bar.to - bar.from]), [["roll", 600_000]]);
});

test("the rows reach from the present past the last serving", () => {
  const { from, to } = spanOf(plan, rowsOf(plan, ["stockpot", "oven"]));
  assert.equal(from, at("08:00"));
  assert.ok(to > at("17:00") && to < at("17:30"));
});

test("a chance is told in tenths, never rounded up, and not at all where it is not known", () => {
  assert.equal(shareOfTen(0.93), "in time 9 in 10");
  assert.equal(shareOfTen(0.899), "in time 8 in 10");
  assert.equal(shareOfTen(0.05), "less than 1 in 10");
  assert.equal(shareOfTen(0.985), "in time 9 in 10");
  assert.equal(shareOfTen(null), "");
});

test("a sentence for each dish: what follows a stage that runs is not begun at the latest, what cannot be done has no next", () => {
  const at = "2026-11-27T10:12:00Z", served = { serve_at: "2026-11-27T17:00:00Z", ready_at: "2026-11-27T12:32:00Z", chance: 1, state: "fits" };
  const poach = { stage: "poach", began: true, begin: at }, rest = { stage: "rest", began: false, begin: "2026-11-27T12:12:00Z", latest_begin: "2026-11-27T12:12:00Z" };
  assert.equal(plannedText({ ...served, ready_late_at: "2026-11-28T00:10:00Z", stages: [poach, rest] }, at),
    "Served at 17:00; ready about 12:32 (Sat 00:10 if it takes long); as good as sure by the plan's own lengths; rest follows about 12:12.");
  assert.equal(plannedText({ ...served, ready_late_at: served.ready_at, stages: [rest] }, at),
    "Served at 17:00; ready about 12:32; as good as sure by the plan's own lengths; begin rest at 12:12.");
  const roast = { stage: "roast", began: false, begin: "2026-11-27T14:17:00Z", latest_begin: "2026-11-27T15:47:00Z" };
  assert.match(plannedText({ ...served, stages: [roast] }, at), /; begin roast at 14:17, at 15:47 at the latest: it is less sure then\.$/);
  assert.equal(plannedText({ serve_at: null, ready_at: null, ready_late_at: null, chance: null, state: "impossible", stages: [poach, rest] }, at), "No serving time is set.");
});

test("what the schedule brings to table too late needs the cook, unless an alarm of it stands", () => {
  const late = { at: "2026-11-27T18:00:00Z", dishes: [{ dish: "tart", state: "late", serve_at: "2026-11-27T17:00:00Z" }, { dish: "roll", state: "tight", serve_at: "2026-11-27T17:00:00Z" },
    { dish: "trout", state: "impossible", serve_at: "2026-11-27T19:00:00Z" }, { dish: "soup", state: "late", serve_at: null },
    { dish: "ham", state: "late", serve_at: "2026-11-25T17:00:00Z" }] };
  assert.deepEqual(lateOnes(late, []), ["tart", "trout"]);
  assert.deepEqual(lateOnes(late, [{ alarm: "late-for-serving", subject: "tart", active: true }]), ["trout"]);
  assert.deepEqual(lateOnes(late, [{ alarm: "late-for-serving", subject: "tart", active: false }]), ["tart", "trout"]);
  assert.deepEqual(lateOnes(null, []), []);
});

test("a serving time is offered by the kitchen's clock, full hours ahead and a week of days", () => {
  const late = Date.parse("2026-11-28T21:50:00-05:00");
  assert.deepEqual(servingHours(late, -300).slice(0, 3), [{ at: "2026-11-28T23:00", word: "23:00" }, { at: "2026-11-29T00:00", word: "tomorrow 00:00" }, { at: "2026-11-29T01:00", word: "tomorrow 01:00" }]);
  assert.equal(servingHours(Date.parse("2026-11-28T21:45:00-05:00"), -300)[0].word, "22:00");
  assert.equal(servingHours(Date.parse("2026-11-28T21:46:00-05:00"), -300)[0].word, "23:00");
  assert.deepEqual(servingDays(late, -300).slice(0, 3), [{ date: "2026-11-28", word: "today" }, { date: "2026-11-29", word: "tomorrow" }, { date: "2026-11-30", word: "Monday, 11-30" }]);
  assert.equal(servingDays(late, 600)[0].date, "2026-11-29");
});

test("a card says when the dish is to be served, and not of a meal that was", () => {
  const present = "2026-11-28T08:00:00-05:00";
  assert.equal(servedText("2026-11-28T17:00:00-05:00", present), "to be served at 17:00");
  assert.equal(servedText("2026-11-29T17:00:00-05:00", present), "to be served at Sun 17:00");
  assert.equal(servedText("2026-12-24T17:00:00-05:00", present), "to be served at 2026-12-24 17:00");
  assert.equal(servedText("2026-11-28T07:00:00-05:00", present), "was to be served at 07:00");
  assert.equal(servedText("2026-11-26T17:00:00-05:00", present), "");
  assert.equal(servedText(null, present), "");
});
