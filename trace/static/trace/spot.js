// Pointing at the drawing of a hull chooses the nearest place in the list beside it, and what is chosen is marked on both.
const drawing = document.querySelector("[data-point]");
const boxes = [...document.querySelectorAll("input[name=spot]")];

const places = () => [...drawing.querySelectorAll("[data-spot]")].filter((place) => place.getClientRects().length);

function mark() {
  const chosen = boxes.find((box) => box.checked)?.value;
  for (const place of drawing.querySelectorAll("[data-spot]")) {
    place.classList.toggle("spot-chosen", Boolean(chosen) && place.dataset.spot === chosen);
  }
}

function point(event) {
  const away = (place) => {
    const { left, right, top, bottom } = place.getBoundingClientRect();
    return Math.hypot((left + right) / 2 - event.clientX, (top + bottom) / 2 - event.clientY);
  };
  const [nearest] = places().sort((a, b) => away(a) - away(b));
  const box = boxes.find((one) => one.value === nearest?.dataset.spot);
  if (box) {
    box.checked = true;
    mark();
  }
}

if (drawing && boxes.length) {
  drawing.addEventListener("click", point);
  document.addEventListener("change", mark);
  mark();
}
