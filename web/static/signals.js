// A tone and a vibration for each kind of answer, so that nobody has to look at the screen; silent mode is remembered.
// Tones are made by the Web Audio API: [frequency in Hz, start in s, length in s].

const TONES = {
  here: [[880, 0, 0.12]],
  first: [[660, 0, 0.1], [880, 0.11, 0.1], [1175, 0.22, 0.18]],
  already: [[440, 0, 0.09], [440, 0.14, 0.09]],
  extra: [[330, 0, 0.18], [247, 0.2, 0.28]],
  question: [[587, 0, 0.12], [784, 0.18, 0.2]],
};
const VIBRATIONS_MS = { here: [40], first: [60, 40, 60, 40, 120], already: [30, 50, 30], extra: [220], question: [80, 60, 80] };
const KEY = "silent";
const VOLUME = 0.25;

let context = null;

export function isSilent() {
  try { return localStorage.getItem(KEY) === "yes"; } catch { return false; }
}

export function setSilent(silent) {
  try { localStorage.setItem(KEY, silent ? "yes" : "no"); } catch { /* not remembered in this browser */ }
}

// Browsers let a page sound only after a person touched it: the first touch or key opens the way.
export function prepareSound() {
  const open = () => {
    context ??= globalThis.AudioContext ? new AudioContext() : null;
    context?.resume().catch(() => {});
  };
  for (const kind of ["pointerdown", "keydown"]) addEventListener(kind, open, { passive: true });
}

// kind: here, first, already, extra, question. The event lets a page (and a test) see what was sounded.
export function sound(kind) {
  if (!TONES[kind]) return;
  const silent = isSilent();
  navigator.vibrate?.(VIBRATIONS_MS[kind]);
  if (!silent && context?.state === "running") for (const tone of TONES[kind]) play(...tone);
  dispatchEvent(new CustomEvent("sounded", { detail: { kind, silent } }));
}

function play(hertz, start_s, length_s) {
  const tone = context.createOscillator();
  const volume = context.createGain();
  const from = context.currentTime + start_s;
  tone.frequency.value = hertz;
  volume.gain.setValueAtTime(0, from);
  volume.gain.linearRampToValueAtTime(VOLUME, from + 0.01);
  volume.gain.linearRampToValueAtTime(0, from + length_s);
  tone.connect(volume).connect(context.destination);
  tone.start(from);
  tone.stop(from + length_s + 0.02);
}
