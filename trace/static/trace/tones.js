// What an answer sounds like, and what is read aloud of it.
const TONES = { accepted: [[1760, 0.09]], warned: [[880, 0.12], [880, 0.12]],    // [Hz, seconds], one after the other
  flagged: [[520, 0.16], [390, 0.2]], refused: [[196, 0.7]],
  held: [[587, 0.14], [440, 0.14], [587, 0.14]] };
let audio = null;

const quiet = () => { try { return localStorage.getItem("sound") === "off"; } catch { return false; } };

export function tone(...outcomes) {
  const known = outcomes.filter((outcome) => TONES[outcome]);
  if (quiet() || !known.length) return;
  audio ??= new AudioContext();
  audio.resume().catch(() => {});
  let start = audio.currentTime + 0.02;
  for (const [outcome, [hertz, seconds]] of known.flatMap((one) => TONES[one].map((note) => [one, note]))) {
    const voice = audio.createOscillator(), level = audio.createGain();
    voice.type = outcome === "refused" ? "square" : "sine";
    voice.frequency.value = hertz;
    level.gain.setValueAtTime(0.0001, start);
    level.gain.exponentialRampToValueAtTime(0.3, start + 0.01);
    level.gain.exponentialRampToValueAtTime(0.0001, start + seconds);
    voice.connect(level).connect(audio.destination);
    voice.start(start);
    voice.stop(start + seconds + 0.02);
    start += seconds + 0.06;
  }
}

export function showSound() {
  const button = document.querySelector("[data-sound]");
  button?.removeAttribute("hidden");
  button?.setAttribute("aria-pressed", String(!quiet()));
}

export function toggleSound() {
  try { localStorage.setItem("sound", quiet() ? "on" : "off"); } catch { /* a browser that keeps nothing */ }
  showSound();
}

export function aloud(words) {
  const said = document.querySelector("#said");
  if (said) said.textContent = words;
}

// The verdict that stands on the page and a hold that is new to it, in a tone and in words.
export function tell() {
  const verdict = document.querySelector("[data-outcome]"), held = document.querySelector("[data-new-hold]");
  if (!verdict && !held) return;
  const words = [verdict?.querySelector(".verdict-words"), held?.querySelector(".hold-notice-words")];
  aloud(words.filter(Boolean).map((part) => part.innerText).join(" "));
  const outcome = verdict?.hasAttribute("data-replayed") ? "accepted" : verdict?.dataset.outcome;
  tone(outcome, held ? "held" : undefined);
}
