// @ts-check
// The minutes of an area by timestamps: pausing, reloading and a dead battery keep them.
import { h, button } from "./dom.js";
import { ran } from "./entries.js";

/** @typedef {import("./entries.js").Timer} Timer */

/** @type {WakeLockSentinel | null} */
let light = null;
/** @type {ReturnType<typeof setInterval> | undefined} */
let beat;
let rung = "";

/** Keeps the screen on while a timer runs, where the browser can. @param {boolean} on */
async function keepLight(on) {
  if (on && !light && document.visibilityState === "visible") light = await navigator.wakeLock?.request("screen").catch(() => null);
  else if (!on) {
    await light?.release();
    light = null;
  }
}
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "hidden") light = null;
});

/** @param {number} ms */
const minutesOf = (ms) => `${Math.floor(ms / 60_000)}:${String(Math.floor(ms / 1000) % 60).padStart(2, "0")}`;

/** A soft low note, for horses that mind; off unless it was chosen. */
function ring() {
  if (localStorage.getItem("sound") !== "soft") return;
  const sound = new AudioContext();
  const note = sound.createOscillator();
  const loud = sound.createGain();
  note.frequency.value = 330;
  loud.gain.setValueAtTime(0.05, sound.currentTime);
  loud.gain.linearRampToValueAtTime(0, sound.currentTime + 1.2);
  note.connect(loud).connect(sound.destination);
  note.start();
  note.stop(sound.currentTime + 1.2);
}

/**
 * The bar at the foot of the sheet. `keep` journals a timer; `end` takes its minutes to the area.
 * @param {Timer} timer @param {(timer: Timer) => void} keep @param {(timer: Timer, minutes: number) => void} end
 */
export function timerBar(timer, keep, end) {
  const now = Date.now();
  const runs = timer.since !== null;
  const shown = h("span.minutes", { role: "timer" });
  const said = h("span.said", { "aria-live": "polite" });
  const show = () => {
    const spent = ran(timer, Date.now());
    shown.textContent = `${minutesOf(spent)} of ${timer.goal}`;
    const over = spent >= timer.goal * 60_000;
    said.textContent = over ? "Time is up" : runs ? "" : "Paused";
    if (over && runs && rung !== timer.area) {
      rung = timer.area;
      ring();
    }
  };
  clearInterval(beat);
  if (runs) beat = setInterval(() => (shown.isConnected ? show() : clearInterval(beat)), 500);
  else rung = "";
  show();
  void keepLight(runs);
  return h("div.timer", { role: "region", "aria-label": `Timer, ${timer.area}` },
    h("strong", timer.area),
    shown,
    said,
    button(runs ? "Pause" : "Go on", () => keep({ ...timer, spent: ran(timer, Date.now()), since: runs ? null : now }), "", { id: "timer-pause" }),
    button("End", () => end(timer, Math.max(1, Math.round(ran(timer, Date.now()) / 60_000))), "primary", { id: "timer-end" }),
  );
}
