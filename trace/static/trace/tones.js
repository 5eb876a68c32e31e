// What an answer sounds like, and what is read aloud of it.
const TONES = { accepted: [[1760, 0.09]], warned: [[880, 0.12], [880, 0.12]],    // [Hz, seconds], one after the other
  flagged: [[520, 0.16], [390, 0.2]], refused: [[196, 0.7]] };
let audio = null;

const quiet = () => { try { return localStorage.getItem("sound") === "off"; } catch { return false; } };

export function tone(outcome) {
  if (quiet() || !TONES[outcome]) return;
  audio ??= new AudioContext();
  audio.resume().catch(() => {});
  let start = audio.currentTime + 0.02;
  for (const [hertz, seconds] of TONES[outcome]) {
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

// The verdict that stands on the page, in a tone and in words.
export function tell() {
  const verdict = document.querySelector("[data-outcome]");
  if (!verdict) return;
  aloud(verdict.querySelector(".verdict-words").innerText);
  tone(verdict.hasAttribute("data-replayed") ? "accepted" : verdict.dataset.outcome);
}
