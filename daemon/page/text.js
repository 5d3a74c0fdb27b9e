// Numbers and times as a cook reads them. Pure.

/** @param {number} celsius @param {string} unit "degF" or "degC" */
export function inUnit(celsius, unit) {
  return unit === "degF" ? celsius * 9 / 5 + 32 : celsius;
}

/** @param {number} value @param {string} unit */
export function inCelsius(value, unit) {
  return unit === "degF" ? (value - 32) * 5 / 9 : value;
}

/** What is typed as text for the API, in the kitchen's unit where none is typed; "" = it is no temperature. @param {string} typed @param {string} unit */
export function quantity(typed, unit) {
  const found = /^([-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*(?:(?:°|deg)?\s*([CF]))?$/i.exec(typed.trim());
  if (!found) return "";
  return `${Number(found[1].replace(",", "."))} ${found[2] ? `deg${found[2].toUpperCase()}` : unit}`;
}

/** @param {string} unit */
export function sign(unit) {
  return unit === "degF" ? "°F" : "°C";
}

/** @param {number | null | undefined} celsius @param {string} unit @param {number} decimals */
export function temperature(celsius, unit, decimals = 1) {
  if (celsius === null || celsius === undefined || !Number.isFinite(celsius)) return "no reading";
  return `${rounded(inUnit(celsius, unit), decimals)} ${sign(unit)}`;
}

/** Never "-0.0". @param {number} value @param {number} decimals */
export function rounded(value, decimals) {
  const text = value.toFixed(decimals);
  return Number(text) === 0 ? (0).toFixed(decimals) : text;
}

/** @param {{low_c: number, high_c: number} | null} band @param {string} unit */
export function bandText(band, unit) {
  if (!band) return "no band";
  const edge = (/** @type {number} */ c) => rounded(inUnit(c, unit), Number.isInteger(Number(inUnit(c, unit).toFixed(1))) ? 0 : 1);
  return `${edge(band.low_c)} to ${edge(band.high_c)} ${sign(unit)}`;
}

/** A limit as it stands at its line, with a decimal where the limits would read alike. @param {number} celsius @param {{low_c: number, high_c: number}} band @param {string} unit */
export function edgeText(celsius, band, unit) {
  const whole = (/** @type {number} */ c) => rounded(inUnit(c, unit), 0);
  return whole(band.low_c) === whole(band.high_c) ? rounded(inUnit(celsius, unit), 1) : whole(celsius);
}

/** "12 s", "4 min", "1 h 05 min", "2 days 3 h". @param {number} seconds */
export function duration(seconds) {
  const s = Math.max(0, Math.round(seconds));
  if (s < 60) return `${s} s`;
  const minutes = Math.round(s / 60);
  if (minutes < 60) return `${minutes} min`;
  const hours = Math.floor(minutes / 60), rest = minutes % 60;
  if (hours < 24) return rest ? `${hours} h ${String(rest).padStart(2, "0")} min` : `${hours} h`;
  const days = Math.floor(hours / 24);
  return `${days} ${days === 1 ? "day" : "days"}${hours % 24 ? ` ${hours % 24} h` : ""}`;
}

/** A countdown: "19:05", "1:02:09". @param {number} seconds */
export function countdown(seconds) {
  const s = Math.max(0, Math.ceil(seconds)), two = (/** @type {number} */ n) => String(n).padStart(2, "0");
  const h = Math.floor(s / 3600), m = Math.floor(s / 60) % 60;
  return h ? `${h}:${two(m)}:${two(s % 60)}` : `${m}:${two(s % 60)}`;
}

/** The offset from UTC that an ISO 8601 time is told in, in minutes. @param {string} iso */
export function offsetMinutes(iso) {
  const found = /([+-])(\d\d):(\d\d)$/.exec(iso);
  return found ? (found[1] === "-" ? -1 : 1) * (Number(found[2]) * 60 + Number(found[3])) : 0;
}

/** The clock of the kitchen, never that of the phone. @param {number} ms since 1970 UTC @param {number} offset minutes */
export function clock(ms, offset, seconds = false) {
  return new Date(ms + offset * 60_000).toISOString().slice(11, seconds ? 19 : 16);
}

/** The clock of an ISO time as it stands there. @param {string | null} iso */
export function clockOf(iso) {
  return iso ? iso.slice(11, 16) : "at an unknown time";
}

/** "13:54", with its day, "Tue 13:54", where that is not the present one. @param {string | null} iso @param {string | null} present */
export function dayClock(iso, present) {
  if (!iso || !present || iso.slice(0, 10) === present.slice(0, 10)) return clockOf(iso);
  const day = new Date(Date.parse(iso) + offsetMinutes(iso) * 60_000).getUTCDay();
  return `${["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"][day]} ${clockOf(iso)}`;
}

/** As dayClock, of instants. @param {number} ms @param {number} present @param {number} offset minutes */
export function dayClockAt(ms, present, offset) {
  const local = (/** @type {number} */ instant) => new Date(instant + offset * 60_000).toISOString();
  return dayClock(local(ms), local(present));
}

/**
 * How the moments of a span are told: by the clock; with the day where the span touches several; with the date where a day's name comes twice.
 * @param {number} from @param {number} to @param {number} offset minutes @returns {(ms: number) => string}
 */
export function momentsOf(from, to, offset) {
  const local = (/** @type {number} */ ms) => new Date(ms + offset * 60_000).toISOString();
  if (local(from).slice(0, 10) === local(to).slice(0, 10)) return (ms) => clock(ms, offset);
  if (to - from > 6 * 86_400_000) return (ms) => local(ms).slice(5, 16).replace("T", " ");
  return (ms) => dayClock(local(ms), "another day");
}

/** What happened, in words: what the cook noted is called so, what the kitchen wrote of an order is not. @param {any} event */
export function happenedText(event) {
  const own = /^(holding .* to .*|timer \d+ is (set|stopped).*|reminder \d+ .*|.* (is no longer held|was not held|has the band of|is held as you asked again|is not held as you asked|is in its band(:|, and)|is read (without|from)|has a new calibration|is to be served|has no serving time any more|its band has ended).*)\.$/s;
  return onPage(event.event === "note" && !own.test(event.text) ? `note: ${event.text}` : event.text);
}

/** @param {string | null} iso */
export function dayAndClock(iso) {
  return iso ? `${iso.slice(0, 10)} ${iso.slice(11, 16)}` : "unknown";
}

/** @param {number} count @param {string} one @param {string} more */
export function counted(count, one, more) {
  return `${count} ${count === 1 ? one : more}`;
}

/** @param {string} text */
export function capital(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

/**
 * A sentence of the daemon as the page shows it: units have their sign, and in place of a command of the terminal stands
 * the button that does it, or nothing where that button is beside the sentence.
 * @param {string} text
 */
export function onPage(text) {
  const buttons = /** @type {Record<string, string>} */ ({ next: "Next stage", back: "Take back", hold: "Hold", end: "End", begin: "Begin", note: "Note", timer: "Timer" });
  return text.replace(/ (Not meant\?|On once more:|Back:) `ingle [^`]*`\.?/g, "")
    .replace(/`ingle ([\w-]+)[^`]*`/g, (_, word) => `“${buttons[word] ?? word}”`)
    .replace(/\bdeg([CF])\b/g, "°$1");
}
