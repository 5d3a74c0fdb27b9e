// Puts the parts together: what came over the link is shown, at once and then as it grows older.
import { askGuest, showGuestLink, signIn } from "./dialogs.js";
import { showDishes } from "./dishes.js";
import { byId, mark, say, show } from "./dom.js";
import { Link } from "./link.js";
import { newNote, newTimer, showChannels, showGlance, showNeeds, showReminders, showTimers } from "./needs.js";
import { guestLink, order, ordersTell, showToken, signOut } from "./orders.js";
import { watchPast } from "./past.js";
import { askSchedule, showSchedule } from "./schedule.js";
import { offerSound, sound } from "./sound.js";
import { clock, counted, dayAndClock, offsetMinutes, onPage } from "./text.js";
import { Track } from "./timeline.js";
import { unseenFirst } from "./urgency.js";
import { showVessels } from "./vessels.js";

// On a narrow screen a point a minute is a point every few pixels, and half of the first load.
const past_s = 3600, grain_s = innerWidth < 600 ? 60 : 30, redraw_every_ms = 5000, load_again_ms = 1500;
/** @type {Map<string, Track>} */
const tracks = new Map();
/** @type {any[]} */
let events = [];
let drawn = -Infinity, loading = false, wanted = false;
/** @type {Set<number>} */
const told = new Set();

const link = new Link({ news: () => { render(); noticeEvents(); }, reading: addReading, opened: loadHistory });

/** @param {any} reading */
function addReading(reading) {
  const t = reading.at ? Date.parse(reading.at) : reading.boot_s * 1000;
  let track = tracks.get(reading.probe);
  if (!track) tracks.set(reading.probe, track = new Track(grain_s * 1000, past_s * 1000));
  track.add(t, reading.celsius);
}

async function loadHistory() {
  if (loading) { wanted = true; return; }
  loading = true;
  try {
    const probes = [...new Set(link.now.vessels.map((/** @type {any} */ v) => v.probe).filter(Boolean))];
    const answer = await fetch(`/api/history?last=${past_s}%20s&grain=${grain_s}%20s&probe=${encodeURIComponent(probes.join(","))}`, { signal: AbortSignal.timeout(15_000) });
    const json = await answer.json();
    if (!answer.ok) throw new Error(json.error);
    for (const series of json.series) {
      const track = tracks.get(series.probe) ?? new Track(grain_s * 1000, past_s * 1000);
      track.load(series, json.gaps);
      tracks.set(series.probe, track);
    }
    events = json.events;
    drawn = -Infinity;
  } catch (error) {
    console.warn(`the past was not read: ${error}`);  // asked for again with the next event
  }
  render();
  await new Promise((resolve) => setTimeout(resolve, load_again_ms));
  loading = false;
  if (wanted) { wanted = false; loadHistory(); }
}

function render() {
  showLink();
  const now = link.now;
  sound(now, link.lost ? link.since.seconds() : 0);
  if (!now) return;
  const passed = link.since.seconds(), redraw = performance.now() - drawn > redraw_every_ms;
  if (redraw) drawn = performance.now();
  const scene = { now, unit: now.units, passed, lost: link.lost, offset: now.at ? offsetMinutes(now.at) : 0,
    nowMs: (now.at ? Date.parse(now.at) : now.boot_s * 1000) + passed * 1000, past_s, tracks, events, redraw };
  mark(document.body, "lost", link.lost);
  say(byId("kitchen"), now.kitchen);
  mark(byId("clock"), "told", now.clock === "known");
  say(byId("clock"), now.clock !== "unknown" ? `${clock(scene.nowMs, scene.offset, true)}${now.clock === "known" ? "" : " (not vouched for)"}` : "the time of day is not known yet");
  showGlance(byId("glance"), scene);
  showNeeds(scene);
  showVessels(byId("vessels"), scene);
  showDishes(byId("dishes"), scene);
  showSchedule(now, link.lost);
  showTimers(byId("timers"), scene);
  showReminders(byId("reminders"), scene);
  showChannels(byId("channels"), scene);
  announce(now);
  askSchedule();
}

function showLink() {
  const line = byId("link"), now = link.now;
  const since = now?.at ? ` since ${clock(Date.parse(now.at), offsetMinutes(now.at), true)}` : "";
  const texts = {
    asking: "Asking the kitchen.",
    live: "",
    lost: `No word from the kitchen${since}. What stands here is old. Asking again every second.`,
    "sign-in": "This kitchen asks for its token: sign in.",
    refused: `The kitchen refuses to answer: ${link.why}`,
  };
  const slow = link.state === "live" && link.lost ? texts.lost : texts[link.state];
  const unread = now && link.state === "live" && now.daemon.past_known === false ? "The logbook has not been read yet: what cooks, what is held and what was told before is not known. " : "";
  const trouble = unread + (now && link.state === "live" && !now.daemon.recording ? `Not recording: ${now.daemon.recording_trouble ?? "the reason is not known"}` : "");
  say(line, slow || trouble);
  show(line, Boolean(slow || trouble));
  show(byId("sign-in"), link.state === "sign-in" || mayNot);
}

/** Said once for each alarm, and not again while it goes on. @param {any} now */
function announce(now) {
  const open = unseenFirst(now.alarms), fresh = open.filter((alarm) => !told.has(alarm.id) && alarm.active);
  document.title = `${link.lost ? "? " : open.length ? `(${open.length}) ` : ""}${now.kitchen}`;
  if (!fresh.length) return;
  for (const alarm of fresh) told.add(alarm.id);
  const high = fresh.filter((alarm) => alarm.priority === "high");
  if (high.length) byId("urgent").textContent = onPage(high.map((alarm) => alarm.text).join(" "));
  else byId("said").textContent = `${counted(fresh.length, "new alarm", "new alarms")}: ${onPage(fresh[0].text)}`;
}

let newest = "", mayNot = false;
/** The time line is asked for anew when something may have happened on it. */
function noticeEvents() {
  const alarms = link.now ? link.now.alarms.map((/** @type {any} */ a) => `${a.id}${a.state}`).join() : "";
  const dishes = link.now ? link.now.dishes.map((/** @type {any} */ d) => `${d.stage}${d.vessel}`).join() : "";
  const key = `${alarms}|${dishes}`;
  if (newest && key !== newest && link.state === "live") loadHistory();
  newest = key;
}

async function askWhatMayBeDone() {
  try {
    const answer = await fetch("/api/session", { signal: AbortSignal.timeout(5000) });
    const session = await answer.json();
    mayNot = answer.status === 401 || session.changes === "token";
    show(byId("signed-in"), session.changes === "allowed");
    const why = byId("may");
    mark(document.body, "read-only", session.changes === "never");
    say(why, session.guest_until ? `You look as a guest until ${dayAndClock(session.guest_until)}; a guest changes nothing.`
      : session.changes === "never" ? "Read only here: the kitchen has no token for the page. Orders go by the command line." : "");
    show(why, Boolean(why.textContent));
    show(byId("guest"), Boolean(session.guest_until));
  } catch {
    mayNot = false;
  }
}

/** @type {any} */
let toldTimer = 0;
/** What was done, or why not. @param {string} text @param {boolean} bad @param {string} dish whose order can be taken back @param {boolean} again its next stage was asked for twice, and may be meant */
function showTold(text, bad, dish, again) {
  const line = byId("told"), back = byId("told-back"), once = byId("told-again");
  byId("told-text").textContent = onPage(text);
  mark(line, "failed", bad);
  show(back, Boolean(dish));
  back.onclick = () => order("back", { dish });
  show(once, again);
  once.onclick = () => order("next", { dish, again: true });
  show(line, true);
  clearTimeout(toldTimer);
  toldTimer = setTimeout(() => show(line, false), bad || dish ? 12_000 : 6000);
}

ordersTell(showTold, () => { link.refresh(); loadHistory(); askWhatMayBeDone(); askSchedule(true); });
offerSound();
byId("new-timer").addEventListener("click", newTimer);
byId("new-note").addEventListener("click", newNote);
byId("sign-out").addEventListener("click", signOut);
byId("guest-link").addEventListener("click", async () => {
  const length = await askGuest(), made = length && await guestLink(length);
  if (made) showGuestLink(`${location.origin}${made.link}`, dayAndClock(made.until));
});
for (const id of ["sign-in", "guest-sign-in"]) byId(id).addEventListener("click", () => signIn(showToken));
watchPast(() => link.now);
askWhatMayBeDone();
link.start();
setInterval(render, 500);
