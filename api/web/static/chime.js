// The sounds of the wall screen. A browser lets a page sound only after somebody has touched it.

export const DUE = [523, 784]; // Hz
export const ACT_NOW = [660, 880, 660];

const SPACING_S = 0.22, ATTACK_S = 0.02, LENGTH_S = 0.2;
const SILENT = 0.0001, LOUD = 0.3; // exponential ramps cannot reach 0

/** @type {AudioContext | null} */
let audio = null;

/** allowSound wakes the sound up; it works only while somebody is touching the screen. */
export async function allowSound() {
  if (!window.AudioContext) return;
  audio ??= new AudioContext();
  if (audio.state === "suspended") await audio.resume();
}

/**
 * chime plays notes one after the other, if sound is allowed.
 * @param {number[]} notes Hz
 */
export function chime(notes) {
  if (audio?.state !== "running") return;
  for (const [i, hertz] of notes.entries()) {
    const at = audio.currentTime + i * SPACING_S, tone = audio.createOscillator(), level = audio.createGain();
    tone.frequency.value = hertz;
    level.gain.setValueAtTime(SILENT, at);
    level.gain.exponentialRampToValueAtTime(LOUD, at + ATTACK_S);
    level.gain.exponentialRampToValueAtTime(SILENT, at + LENGTH_S);
    tone.connect(level).connect(audio.destination);
    tone.start(at);
    tone.stop(at + SPACING_S);
  }
}
