// A page that others change while it is read: what of it is marked live is fetched again, and swapped where it differs.
const EVERY = 15_000;

async function look() {
  if (document.hidden) return;
  try {
    const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
    if (!answer.ok || answer.redirected) return;
    const next = new DOMParser().parseFromString(await answer.text(), "text/html").querySelectorAll("[data-live]");
    const here = document.querySelectorAll("[data-live]");
    if (next.length !== here.length) return;
    here.forEach((old, n) => {
      // Whoever is in a list with the keyboard stays there.
      if (!old.contains(document.activeElement) && old.innerHTML !== next[n].innerHTML) old.replaceWith(document.adoptNode(next[n]));
    });
  } catch {
    // No line: what stands there stays, with the time as of which it is true.
  }
}

setInterval(look, EVERY);
