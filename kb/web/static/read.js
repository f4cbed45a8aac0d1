"use strict";
// One touch records a note as read and, in a list, goes on to the next. Without this file the forms
// work alike, a page load each.
(function () {
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
      seconds: String(window.sender.stopwatch.seconds()),
    });
    window.sender.send();
    button.disabled = true;
    button.textContent = "Read \u2713";
    const leaf = form.closest(".leaf");
    leaf.classList.add("done");
    window.sender.stopwatch.begin();
    const next = leaf.nextElementSibling;
    const goal = next && next.matches(".leaf") ? next : null;
    if (goal) {
      goal.scrollIntoView();
      goal.focus({ preventScroll: true });
    }
  }

  document.addEventListener("submit", function (event) {
    if (event.target.matches("form.read-on")) {
      event.preventDefault();
      mark(event.target);
    }
  });
})();
