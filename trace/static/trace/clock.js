// The clock of a drill runs on the page too, second by second; what counts are the times of its records.
const clock = document.querySelector("[data-clock]");
const begun = new Date(clock.dataset.clock);

function show() {
  const seconds = Math.max(0, Math.floor((Date.now() - begun) / 1000));
  const two = (n) => String(n).padStart(2, "0");
  clock.textContent = `${Math.floor(seconds / 3600)}:${two(Math.floor(seconds / 60) % 60)}:${two(seconds % 60)}`;
}

show();
setInterval(show, 1000);
