// Home: what the camera reads is given like what a hand-held scanner types, so that the station of a thing opens.
const form = document.querySelector("[data-to-scan]");

document.addEventListener("scanned", ({ detail }) => {
  form.elements.code.value = detail.text;
  form.requestSubmit();
});
