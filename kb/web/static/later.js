"use strict";
// A part of a page that takes long comes once one scrolls to it. Without this file it is a link.
(function () {
  async function fill(section) {
    try {
      const answer = await fetch(section.dataset.later);
      if (!answer.ok || answer.redirected) {
        return;
      }
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const parts = page.querySelectorAll("[data-part]");
      if (parts.length) {
        const head = section.querySelector("h2");
        section.replaceChildren(head, ...parts);
        delete section.dataset.later;
      }
    } catch {
      // No connection: the link stays.
    }
  }

  const seen = new IntersectionObserver(function (entries) {
    for (const entry of entries) {
      if (entry.isIntersecting) {
        seen.unobserve(entry.target);
        fill(entry.target);
      }
    }
  });
  for (const section of document.querySelectorAll("[data-later]")) {
    seen.observe(section);
  }
})();
