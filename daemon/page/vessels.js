// One strip for each vessel: the value with its age, one sentence, the time line.
import { drawTimeline } from "./chart.js";
import { askBand, askNote } from "./dialogs.js";
import { button, draw, keyed, make, mark, say, show } from "./dom.js";
import { order, whyNot } from "./orders.js";
import { bandText, clock, happenedText, inUnit, quantity, rounded, sign, temperature, onPage } from "./text.js";
import { longestStep } from "./timeline.js";
import { ageOf, ahead } from "./urgency.js";

/**
 * What every part of the page is drawn from.
 * @typedef {{now: any, unit: string, passed: number, lost: boolean, nowMs: number, offset: number, past_s: number,
 *   tracks: Map<string, import("./timeline.js").Track>, events: any[], redraw: boolean}} Scene
 */

const readyNotes = ["Turned up", "Turned down", "Topped up", "Stirred", "Opened", "Moved the probe"];

/** @param {HTMLElement} parent @param {Scene} scene */
export function showVessels(parent, scene) {
  keyed(parent, scene.now.vessels.map((/** @type {any} */ vessel) => ({ vessel, scene })), (item) => item.vessel.name, vesselCard);
}

/** A number in large type with its age; what is not of this moment is grey and says so. */
export class Reading {
  constructor() {
    this.number = make("span", { className: "number" });
    this.unit = make("span", { className: "unit" });
    this.age = make("span", { className: "age" });
    this.element = make("p", { className: "value" }, this.number, this.unit, " ", this.age);
  }
  /** @param {any} value @param {any} probe @param {Scene} scene */
  update(value, probe, scene) {
    const { live, fading, words } = ageOf({ ...value, fault: probe?.fault }, scene.passed, scene.lost, scene.tracks.get(probe?.name)?.every_s ?? probe?.every_s);
    const last = value.last ? temperature(value.last.celsius, scene.unit) : "";
    const readable = live || (scene.lost && value.last);
    say(this.number, readable ? rounded(inUnit(value.last.celsius, scene.unit), 1) : "no reading");
    say(this.unit, readable ? ` ${sign(scene.unit)}` : "");
    say(this.age, readable ? words : last ? `last ${last}, ${words}` : "");
    for (const step of [0, 1, 2, 3]) mark(this.element, `fading-${step}`, step === fading);
    mark(this.element, "none", !readable);
  }
}

/** @param {{vessel: any, scene: Scene}} first */
function vesselCard(first) {
  const name = first.vessel.name, reading = new Reading();
  let current = first;
  const band = make("p", { className: "band" }), sentence = make("p", { className: "sentence" });
  const svg = /** @type {any} */ (draw("svg", { role: "img", class: "timeline", preserveAspectRatio: "none" }));
  const happened = make("ul"), summary = make("summary"), details = make("details", { className: "happened" }, summary, happened);
  const hold = button("Hold", () => holdIt(current), { "aria-label": `Hold ${name} to a band` });
  const note = button("Note", () => noteIt(name), { "aria-label": `Note about ${name}` });
  const element = make("article", { className: "vessel", "aria-labelledby": `vessel-${name}` },
    make("header", {}, make("h3", { id: `vessel-${name}` }, name), band), reading.element, sentence, svg, details,
    make("p", { className: "buttons" }, hold, note));
  let width = 0;
  return { element, update: (/** @type {{vessel: any, scene: Scene}} */ item) => {
    current = item;
    const { vessel, scene } = item, probe = scene.now.probes.find((/** @type {any} */ p) => p.name === vessel.probe);
    say(band, vessel.kind === name ? bandText(vessel.band, scene.unit) : `${vessel.kind}, ${bandText(vessel.band, scene.unit)}`);
    reading.update(vessel, probe, scene);
    say(sentence, onPage(scene.lost ? `Said when there was word last: ${vessel.sentence}` : vessel.sentence));
    mark(element, "away", Boolean(vessel.band) && !String(vessel.phase).startsWith("in band"));
    const wide = element.clientWidth ? Math.max(200, element.clientWidth - 26) : 0;
    show(svg, Boolean(vessel.probe));
    if (vessel.probe && wide && (scene.redraw || wide !== width)) {
      width = wide;
      drawVessel(svg, width, vessel, probe, scene);
    }
    if (scene.redraw) listEvents(details, summary, happened, eventsOf(vessel, scene), scene);
  } };
}

/** @param {any} vessel @param {Scene} scene */
function eventsOf(vessel, scene) {
  const names = [vessel.name, ...scene.now.dishes.filter((/** @type {any} */ d) => d.vessel === vessel.name).map((/** @type {any} */ d) => d.name)];
  return scene.events.filter((e) => names.includes(e.subject) && e.event !== "foretold");
}

/** @param {SVGElement} svg @param {number} width @param {any} vessel @param {any} probe @param {Scene} scene */
function drawVessel(svg, width, vessel, probe, scene) {
  const track = scene.tracks.get(vessel.probe), points = track ? track.points : [];
  const interval = ahead(vessel.forecast, scene.passed), level = vessel.forecast?.level_c;
  const forecast = interval && Number.isFinite(level) && !scene.lost ? { ...interval, what: vessel.forecast.what, level } : null;
  const live = !scene.lost && vessel.celsius !== null && !probe?.fault;
  drawTimeline(svg, width, { now: scene.nowMs, past_s: scene.past_s, ahead_s: scene.past_s / 2, offset: scene.offset, unit: scene.unit,
    band: vessel.band, points, longest: track ? longestStep(points, track.grain) : 0, unread: track?.unread ?? [], events: eventsOf(vessel, scene), forecast, value: live ? vessel.celsius : null, live });
  const shown = points.filter((p) => p.c !== null && p.t >= scene.nowMs - scene.past_s * 1000).map((p) => Number(p.c));
  svg.setAttribute("aria-label", shown.length
    ? `${vessel.name} over the last ${scene.past_s / 3600} h: ${temperature(Math.min(...shown), scene.unit)} to ${temperature(Math.max(...shown), scene.unit)}, ${bandText(vessel.band, scene.unit)}`
    : `${vessel.name}: no readings to draw yet`);
}

/** @param {HTMLElement} details @param {HTMLElement} summary @param {HTMLElement} list @param {any[]} events @param {Scene} scene */
function listEvents(details, summary, list, events, scene) {
  show(details, events.length > 0);
  say(summary, `What happened (${events.length})`);
  keyed(list, events.slice(-30).reverse(), (e) => `${e.t_ms} ${e.event} ${e.text}`, (e) => ({
    element: make("li", {}, `${clock(e.t_ms, scene.offset)} ${happenedText(e)}`), update: () => {} }));
}

/** @param {{vessel: any, scene: Scene}} item */
async function holdIt({ vessel, scene }) {
  const edge = (/** @type {number} */ c) => String(Number(inUnit(c, scene.unit).toFixed(1)));
  let before = vessel.band ? { low: edge(vessel.band.low_c), high: edge(vessel.band.high_c) } : { low: "", high: "" };
  for (let why = "";; why = whyNot()) {
    const band = await askBand(vessel.name, sign(scene.unit), before, why);
    if (!band) return;
    if (band === "none") return order("hold", { vessel: vessel.name, band: null });
    if (await order("hold", { vessel: vessel.name, low: quantity(band.low, scene.unit), high: quantity(band.high, scene.unit) })) return;
    before = band;  // what was typed is not lost
  }
}

/** @param {string} name */
async function noteIt(name) {
  const text = await askNote(`Note about ${name}`, readyNotes);
  if (text) await order("note", { text, about: `vessel ${name}` });
}
