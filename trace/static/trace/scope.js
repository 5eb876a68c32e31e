// Of the form that adds a cause only the fields that fit the chosen word are shown, and sent.
const form = document.querySelector("[data-scope-form]");
const word = form?.querySelector("select[name=name]");

function fit() {
  for (const field of form.querySelectorAll("[data-for]")) {
    const fits = field.dataset.for.split(" ").includes(word.value);
    field.hidden = !fits;
    for (const box of field.querySelectorAll("input, select")) {
      box.disabled = !fits;
    }
  }
}

if (word) {
  word.addEventListener("change", fit);
  // A page that was gone back to keeps what was chosen.
  window.addEventListener("pageshow", fit);
  fit();
}
