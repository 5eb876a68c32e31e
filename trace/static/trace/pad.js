// The page's own keys for a figure: what they write goes where the keyboard's would go.
export function listenPad(entry, typed = () => {}) {
  document.addEventListener("click", (click) => {
    const key = click.target.closest("[data-key]"), box = entry();
    if (!key || !box) return;
    const all = box.value && box.selectionStart === 0 && box.selectionEnd === box.value.length;    // what is marked is typed over
    if (key.dataset.key === "") box.value = all ? "" : box.value.slice(0, -1);
    else box.value = (all ? "" : box.value) + key.dataset.key;
    box.setSelectionRange(box.value.length, box.value.length);
    typed(box);
  });
}

export function showPad(box) {
  document.querySelector("[data-pad]")?.removeAttribute("hidden");
  if (box?.inputMode && matchMedia("(pointer: coarse)").matches) box.inputMode = "none";    // the phone's own stays away
}
