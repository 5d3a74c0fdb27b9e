// An alarm that can be heard: short tones, more of them the more it presses, and again while nobody has seen it. A
// browser allows sound only after a tap, so there is none until the cook asks for it.
import { byId, say } from "./dom.js";
import { unseenFirst } from "./urgency.js";

const tones = /** @type {Record<string, number>} */ ({ high: 5, medium: 3, low: 1 });
const again_s = /** @type {Record<string, number>} */ ({ high: 10, medium: 60, low: Infinity });
/** @type {AudioContext | null} */
let speaker = null;
let newestAlarm = 0, sounded = -Infinity;

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

/** Sounds for what is new and for what nobody has seen, the most urgent only. @param {any} now */
export function sound(now) {
  const open = unseenFirst(now.alarms).filter((alarm) => alarm.active), first = open[0];
  const latest = Math.max(0, ...open.map((alarm) => alarm.id)), fresh = latest > newestAlarm;
  newestAlarm = Math.max(newestAlarm, latest);
  if (!first || !speaker) return;
  const passed = (performance.now() - sounded) / 1000;
  if (!fresh && passed < again_s[first.priority]) return;
  sounded = performance.now();
  play(tones[first.priority]);
}
