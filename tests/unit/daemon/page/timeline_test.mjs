import assert from "node:assert/strict";
import test from "node:test";
import { Track, doors, edgeLabels, pastShare, pieces, range, scale, ticks } from "../../../../daemon/page/timeline.js";

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
