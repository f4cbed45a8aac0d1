"use strict";
// Titles of notes under the search field while words are typed. Without it the form works alike.
(function () {
  const field = document.querySelector("input[data-suggest]");
  const list = document.getElementById("suggestions");
  if (!field || !list) {
    return;
  }
  const PAUSE_MS = 150;
  let waiting = 0;
  let asking = null;

  function show(notes) {
    list.replaceChildren();
    for (const note of notes) {
      const link = document.createElement("a");
      link.href = note.address;
      link.textContent = note.title;
      const row = document.createElement("li");
      row.append(link);
      list.append(row);
    }
    list.hidden = notes.length === 0;
  }

  async function ask() {
    const words = field.value.trim();
    if (asking) {
      asking.abort();
    }
    if (words.length < 2) {
      show([]);
      return;
    }
    asking = new AbortController();
    const address = field.dataset.suggest + "?words=" + encodeURIComponent(words);
    try {
      const answer = await fetch(address, {
        headers: { Accept: "application/json" },
        signal: asking.signal,
      });
      if (answer.ok) {
        show((await answer.json()).notes);
      }
    } catch {
      // Typed on, or no connection: the form itself still works.
    }
  }

  field.addEventListener("input", function () {
    clearTimeout(waiting);
    waiting = setTimeout(ask, PAUSE_MS);
  });
  field.form.addEventListener("keydown", function (event) {
    if (event.key === "Escape" && !list.hidden) {
      show([]);
      field.focus();
      event.preventDefault();
    }
  });
})();
