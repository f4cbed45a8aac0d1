"use strict";
// Forms that hold what a person typed: before one is sent, missbook is asked whether it is there,
// so that a lost connection leaves the page as it is.
(function () {
  const PATIENCE_MS = 10000;

  async function freshToken() {
    const answer = await fetch("/token", {
      headers: { Accept: "application/json" },
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
    if (answer.status === 401) {
      return "";
    }
    return (await answer.json()).token;
  }

  function signIn() {
    const link = document.createElement("a");
    link.href = "/login";
    link.target = "_blank";
    link.textContent = "Sign in again in another tab, then press once more.";
    return link;
  }

  for (const form of document.querySelectorAll("form[data-steady]")) {
    let sure = false;
    let asking = false;
    form.addEventListener("submit", async function (event) {
      if (sure) {
        sure = false;
        return;
      }
      event.preventDefault();
      if (asking) {
        return; // Pressed twice.
      }
      asking = true;
      const button = event.submitter;
      const told = form.querySelector(".steady");
      try {
        const token = await freshToken();
        if (!token) {
          told.replaceChildren("Nothing was sent, and what you typed is still here. ", signIn());
          return;
        }
        form.elements.namedItem("token").value = token;
      } catch {
        told.textContent = "No connection: nothing was sent, and what you typed is still here.";
        return;
      } finally {
        asking = false;
      }
      told.textContent = "";
      sure = true;
      form.requestSubmit(button);
    });
  }
})();
