// An alarm that can be heard: short tones, more of them the more it presses, and again while nobody has seen it; and
// that no word comes, which is heard too. A browser allows sound only after a tap, so there is none until the cook asks.
import { byId, say } from "./dom.js";
import { unseenFirst } from "./urgency.js";

const tones = /** @type {Record<string, number>} */ ({ high: 5, medium: 3, low: 1 });
const again_s = /** @type {Record<string, number>} */ ({ high: 10, medium: 60, low: Infinity });
const silent_s = 10, silentAgain_s = 30;  // without word from the kitchen, which restarts within less
/** @type {AudioContext | null} */
let speaker = null;

/** What is to be heard when. Times in seconds of one steady clock. */
export class Hearing {
  newest = 0;
  sounded = -Infinity;
  lossTold = -Infinity;
  /** @type {Set<number>} timers that ran out here while no word came */
  rung = new Set();

  /** What nobody has seen, the most urgent first, and whether one of it is new since this was asked last. @param {any} now */
  look(now) {
    const open = unseenFirst(now?.alarms ?? []).filter((alarm) => alarm.active), latest = Math.max(0, ...open.map((alarm) => alarm.id));
    const fresh = latest > this.newest;
    this.newest = Math.max(this.newest, latest);
    return { first: open[0], fresh };
  }

  /** How many tones are due. @param {any} now what /api/now gave last @param {number} without seconds without word, 0 = there is word @param {number} t */
  due(now, without, t) {
    const { first, fresh } = this.look(now);
    let count = first && (fresh || t - this.sounded >= again_s[first.priority]) ? tones[first.priority] : 0;
    if (!without) {
      this.lossTold = -Infinity;
      this.rung.clear();
    }
    const out = without ? (now?.timers ?? []).filter((/** @type {any} */ timer) => !timer.over && timer.left_s <= without && !this.rung.has(timer.timer)) : [];
    for (const timer of out) this.rung.add(timer.timer);
    if (out.length || (without > silent_s && t - this.lossTold >= silentAgain_s)) {
      count = tones.high;
      this.lossTold = t;
    }
    if (count) this.sounded = t;
    return count;
  }
}

const hearing = new Hearing();

/** @param {number} count */
function play(count) {
  if (!speaker) return;
  for (let i = 0; i < count; i += 1) {
    const at = speaker.currentTime + 0.05 + i * 0.3, tone = speaker.createOscillator(), gain = speaker.createGain();
    tone.frequency.value = 880;
    gain.gain.setValueAtTime(0, at);
    gain.gain.linearRampToValueAtTime(0.4, at + 0.02);
    gain.gain.linearRampToValueAtTime(0, at + 0.18);
    tone.connect(gain).connect(speaker.destination);
    tone.start(at);
    tone.stop(at + 0.2);
  }
  navigator.vibrate?.(Array.from({ length: count * 2 - 1 }, (_, i) => i % 2 ? 120 : 180));
}

/** The button that turns the sound on and off. */
export function offerSound() {
  const button = byId("sound");
  button.addEventListener("click", async () => {
    const off = speaker;
    speaker = null;
    if (off) await off.close();
    else {
      speaker = new AudioContext();
      await speaker.resume();
      play(1);
    }
    button.setAttribute("aria-pressed", String(Boolean(speaker)));
    say(button, speaker ? "Sound on" : "Sound");
  });
}

/** Sounds for what is due, the most urgent only. @param {any} now @param {number} without seconds without word, 0 = there is word */
export function sound(now, without) {
  if (!speaker) return void hearing.look(now);
  const count = hearing.due(now, without, performance.now() / 1000);
  if (count) play(count);
}
