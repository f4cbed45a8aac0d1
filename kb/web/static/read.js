"use strict";
// Reading in one flow: one touch records a note as read and goes on to the next. The seconds count
// while the page is in view. Without this file the forms work alike, a page load each.
(function () {
  const MOST_SECONDS = 3600;
  let spent = 0;
  let since = document.hidden ? 0 : performance.now();

  function seconds() {
    return Math.min(MOST_SECONDS, (spent + (since ? performance.now() - since : 0)) / 1000);
  }

  function begin() {
    spent = 0;
    since = performance.now();
  }

  document.addEventListener("visibilitychange", function () {
    if (document.hidden) {
      spent += since ? performance.now() - since : 0;
      since = 0;
    } else {
      since = performance.now();
    }
  });

  function mark(form) {
    const button = form.querySelector("button");
    if (button.disabled) {
      return;
    }
    window.sender.keep({
      entry: window.sender.newId(),
      at: window.sender.moment(),
      order: Date.now(),
      read: form.elements.namedItem("note").value,
      seconds: String(Math.round(10 * seconds()) / 10),
    });
    window.sender.send();
    button.disabled = true;
    button.textContent = "Read \u2713";
    const leaf = form.closest(".leaf");
    leaf.classList.add("done");
    begin();
    const next = leaf.nextElementSibling;
    const goal = next && next.matches(".leaf") ? next : null;
    if (goal) {
      goal.scrollIntoView();
      goal.focus({ preventScroll: true });
    }
  }

  for (const form of document.querySelectorAll("form.read-on")) {
    form.addEventListener("submit", function (event) {
      event.preventDefault();
      mark(form);
    });
  }
})();
