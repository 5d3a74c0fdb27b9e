import assert from "node:assert/strict";
import test from "node:test";
import { Track, corners, doors, edgeLabels, levels, longestStep, pastShare, pieces, pointsOf, range, scale, ticks, unreadOf } from "../../../../daemon/page/timeline.js";

test("the past lies left of now, what is ahead right of it", () => {
  const { x, y, nowX } = scale(300, 100, { now: 1_000_000, past_s: 600, ahead_s: 300, low: 80, high: 90 });
  assert.equal(nowX, 300 * pastShare);
  assert.equal(x(1_000_000), nowX);
  assert.equal(x(400_000), 0);
  assert.equal(x(1_300_000), 300);
  assert.equal(y(80), 100);
  assert.equal(y(90), 0);
});

test("no line is drawn over what was not read", () => {
  const point = (t, c) => ({ t, c });
  const out = pieces([point(0, 1), point(10, 2), point(20, null), point(30, 3), point(90, 4)], 50);
  assert.deepEqual(out.map((piece) => piece.map((p) => p.c)), [[1, 2], [3], [4]]);
});

test("the range has room, even for one value and for none", () => {
  assert.deepEqual(range([80, NaN]), { low: 79, high: 81 });
  assert.deepEqual(range([0, 100]), { low: -12, high: 112 });
  assert.deepEqual(range([]), { low: 0, high: 100 });
});

test("ticks stand on round moments; a door is open from its opening to its closing", () => {
  assert.deepEqual(ticks(1_000, 1_900_000, 900), [900_000, 1_800_000]);
  const event = (t_ms, name) => ({ t_ms, event: name });
  assert.deepEqual(doors([event(1, "door-opened"), event(2, "door-opened"), event(5, "door-closed"), event(7, "note"), event(8, "door-opened")], 9),
    [{ from: 1, to: 5 }, { from: 8, to: 9 }]);
  assert.deepEqual(doors([event(5, "door-closed")], 9), []);
});

test("a track keeps a reading in each grain, the newest always, and forgets the old", () => {
  const track = new Track(10, 100);
  for (let t = 0; t <= 200; t += 2) track.add(t, t);
  assert.equal(track.points.at(-1).t, 200);
  assert.ok(track.points[0].t >= 100);
  assert.ok(track.points.length <= 14);
  assert.ok(track.points.length >= 9);
  track.add(150, 1);
  assert.equal(track.points.at(-1).t, 200);
});

test("a fault leaves a gap; the logbook's readings come before those that arrived", () => {
  const track = new Track(10, 1000);
  track.add(500, 5);
  track.add(505, null);
  track.add(507, 6);
  assert.deepEqual(track.points.map((p) => p.c), [5, null, 6]);
  track.load({ t_ms: [400, 500], mean_c: [3, 5] });
  assert.deepEqual(track.points.map((p) => [p.t, p.c]), [[400, 3], [500, 5], [505, null], [507, 6]]);
});

/** Grains of 30 s of a probe read each second, those left out not read at all. */
const grains = (count, lacking = {}) => pointsOf({ t_ms: Array.from({ length: count }, (_, i) => i * 30_000).filter((_, i) => lacking[i] !== 0),
  mean_c: Array.from({ length: count }, () => 80), count: Array.from({ length: count }, (_, i) => lacking[i] ?? 30).filter((n) => n) });
const parts = (points, grain, unread) => pieces(points, longestStep(points, grain), unread).map((piece) => piece.length);

test("a stop of the daemon is a hole in the line, also where each grain has some readings", () => {
  assert.deepEqual(parts(grains(10), 30_000), [10]);
  assert.deepEqual(parts(grains(10, { 4: 0 }), 30_000), [4, 5], "31 s and more without a point");
  assert.deepEqual(parts(grains(10, { 4: 14, 5: 15 }), 30_000), [5, 5], "31 s from the middle of one grain to that of the next");
  assert.deepEqual(parts(grains(10, { 8: 15, 9: 20 }), 30_000), [8, 1, 1], "into the last grain, which is not over");
  assert.deepEqual(parts(grains(10, { 4: 5, 5: 4, 6: 3 }), 30_000), [4, 1, 1, 1, 3], "hardly read for a while");
  assert.deepEqual(parts(grains(10, { 4: 29, 5: 28 }), 30_000), [10], "one reading that is late is no hole");
  assert.deepEqual(parts(grains(10, { 9: 3 }), 30_000), [10], "the last grain is not over");
});

test("the time that the logbook calls unread is never joined, what no picture could show is", () => {
  const gaps = [{ probe: "a", from_ms: 100_000, to_ms: 140_000 }, { probe: "b", from_ms: 0, to_ms: 250_000 }, { probe: "a", from_ms: 200_000, to_ms: 201_000 }];
  const unread = unreadOf(gaps, "a", 30_000);
  assert.deepEqual(unread, [{ from: 100_000, to: 140_000 }]);
  assert.deepEqual(parts(grains(10), 30_000, unread), [4, 1, 5]);
  assert.deepEqual(unreadOf([{ probe: null, from_ms: 0, to_ms: 60_000 }], "a", 30_000).length, 1, "the daemon was off");
});

test("a probe that is read once in a minute, or in 45 s, is one line", () => {
  for (const every of [16_000, 45_000, 60_000, 100_000]) {
    const buckets = new Map();
    for (let t = 0; t < 3_600_000; t += every) buckets.set(Math.floor(t / 30_000), (buckets.get(Math.floor(t / 30_000)) ?? 0) + 1);
    const points = pointsOf({ t_ms: [...buckets.keys()].map((b) => b * 30_000), mean_c: [...buckets.keys()].map(() => 5), count: [...buckets.values()] });
    assert.equal(parts(points, 30_000).length, 1, `${every} ms`);
  }
});

test("readings that arrive after a silence do not join what was before it", () => {
  const track = new Track(30_000, 3_600_000);
  for (let t = 1000; t <= 60_000; t += 1000) track.add(t, 80);
  for (let t = 91_000; t <= 120_000; t += 1000) track.add(t, 60);
  const begins = () => pieces(track.points, longestStep(track.points, 30_000), track.unread).map((piece) => piece[0].c);
  assert.deepEqual(begins(), [80, 60]);
  // Nor when the logbook is read anew and has nothing of that time.
  track.load({ probe: "a", t_ms: [0, 30_000, 60_000, 90_000], mean_c: [80, 80, 79, 60], count: [30, 30, 1, 29] });
  assert.ok(begins().length > 1);
  // A phone that slept heard nothing, and the kitchen was read all the same.
  const full = { probe: "a", t_ms: [0, 30_000, 60_000, 90_000, 120_000], mean_c: [80, 80, 79, 60, 60], count: [30, 30, 30, 30, 30] };
  track.load(full);
  assert.equal(begins().length, 1);
  const slept = new Track(30_000, 3_600_000);
  for (let t = 1000; t <= 20_000; t += 1000) slept.add(t, 80);
  slept.load(full);
  slept.add(151_000, 60);
  assert.deepEqual(slept.unread, []);
  const slow = new Track(30_000, 3_600_000);
  for (let t = 60_000; t <= 600_000; t += 60_000) slow.add(t, 80);
  assert.deepEqual(slow.unread, [], "a reading a minute is no silence");
});

test("one reading alone is a dot", () => {
  assert.equal(corners([{ t: 3, c: 4 }], (t) => t, (c) => c), "3.0,4.0 3.2,4.0");
  assert.equal(corners([{ t: 3, c: 4 }, { t: 5, c: 6 }], (t) => t, (c) => c), "3.0,4.0 5.0,6.0");
});

test("a line of the scale stands where its number is", () => {
  for (const [low, high] of [[36.2, 38.9], [-3, 5.1], [32, 226], [40.1, 41.9], [0, 700]]) {
    const lines = levels(low, high);
    assert.ok(lines.length >= 2 && lines.length <= 6, `${low} to ${high}: ${lines.map((line) => line.text)}`);
    for (const { value, text } of lines) assert.ok(Math.abs(Number(text) - value) < 1e-9 && value >= low - 1e-9 && value <= high + 1e-9, text);
  }
  assert.deepEqual(levels(36.2, 38.9).map((line) => line.text), ["37", "38"]);
  assert.deepEqual(levels(-0.9, 1.2).map((line) => line.text), ["0", "1"]);
});

test("the names of a band's limits never stand over each other, nor over the clock below", () => {
  const bottom = 78;
  for (let top = 4; top <= bottom; top += 1) {
    for (let low = top; low <= bottom; low += 1) {
      const { high, low: under } = edgeLabels(top, low, bottom);
      assert.ok(under - high >= 11, `${top} to ${low}: ${high} and ${under}`);
      assert.ok(high >= 9 && under <= bottom, `${top} to ${low}: ${high} and ${under}`);
    }
  }
});
