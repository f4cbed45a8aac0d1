"use strict";
// Where there is room, the note chosen in a list is read beside it. Without this file, and on a
// phone, its link leads to the note.
(function () {
  const WIDE = matchMedia("(min-width: 60em)");
  const split = document.querySelector("[data-beside]");
  const links = split ? [...split.querySelectorAll('.sheet .subject a[href^="/note/"]')] : [];
  if (!links.length) {
    return;
  }
  const pane = document.createElement("section");
  pane.className = "pane";
  pane.setAttribute("aria-label", "The note chosen in the list");
  pane.setAttribute("aria-live", "polite");
  split.append(pane);
  let chosen = null;

  async function choose(link) {
    chosen = link;
    const answer = await fetch(link.href);
    if (!answer.ok || !new URL(answer.url).pathname.startsWith("/note/")) {
      throw new Error(String(answer.status));
    }
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (chosen !== link) {
      return; // Another was chosen meanwhile.
    }
    for (const each of links) {
      each.removeAttribute("aria-current");
    }
    link.setAttribute("aria-current", "true");
    const head = document.createElement("h2");
    const title = document.createElement("a");
    title.href = answer.url;
    title.textContent = page.querySelector("h1").textContent;
    head.append(title);
    pane.replaceChildren(head, ...page.querySelectorAll("[data-leaf]"));
    pane.scrollTop = 0;
    window.sender.stopwatch.begin();
  }

  for (const link of links) {
    link.addEventListener("click", function (event) {
      if (!WIDE.matches || event.ctrlKey || event.metaKey || event.shiftKey) {
        return;
      }
      event.preventDefault();
      choose(link).catch(() => location.assign(link.href));
    });
  }

  function begin() {
    if (WIDE.matches && !chosen) {
      choose(links[0]).catch(() => {});
    }
  }
  WIDE.addEventListener("change", begin);
  begin();
})();
