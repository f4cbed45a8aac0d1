"use strict";
// The note for a miss: notes that may cover it are listed while it is typed. What is typed is kept
// in this browser until missbook has said that it is saved. Without this file the form works alike.
(function () {
  const section = document.getElementById("miss");
  if (!section) {
    return;
  }
  const PREFIX = "missbook-note-" + document.documentElement.dataset.base + "-";
  const PAUSE_MS = 250;
  const FIRST_RETRY_MS = 2000;
  const LONGEST_RETRY_MS = 60000;
  const PATIENCE_MS = 15000;
  const FIELDS = ["body", "title", "area", "concepts", "basis"];

  const form = document.getElementById("note");
  const aside = section.querySelector("form.aside");
  const near = section.querySelector(".near");
  const refused = section.querySelector(".refused");
  const search = form.querySelector(".search");
  const confirmed = section.querySelector(".confirm");
  const field = (name) => form.elements.namedItem(name);
  const status = document.createElement("p");
  status.setAttribute("role", "status");
  status.className = "quiet";
  section.append(status);
  search.hidden = true;

  let question = decodeURIComponent(new URL(form.action).pathname.split("/").pop() || "");
  let remark = "";
  const proposed = { area: field("area").value, concepts: field("concepts").value };

  function address(end) {
    return "/log/miss/" + encodeURIComponent(question) + end;
  }

  // What is typed, kept until it is saved

  function keep() {
    try {
      if (!field("body").value.trim()) {
        localStorage.removeItem(PREFIX + question);
        return;
      }
      const typed = Object.fromEntries(FIELDS.map((name) => [name, field(name).value]));
      localStorage.setItem(PREFIX + question, JSON.stringify(typed));
    } catch {
      // Storage denied: it stays in the page.
    }
  }

  function recall() {
    try {
      const typed = JSON.parse(localStorage.getItem(PREFIX + question) || "null");
      if (typed && !field("body").value) {
        FIELDS.forEach((name) => {
          field(name).value = typed[name];
        });
        status.textContent = "What you typed before is here again; it is not saved yet.";
        return true;
      }
    } catch {
      // Nothing kept.
    }
    return false;
  }

  function forget() {
    try {
      localStorage.removeItem(PREFIX + question);
    } catch {
      // Nothing kept.
    }
  }

  // Asking missbook

  async function post(path, values) {
    const send = () =>
      fetch(path, {
        method: "POST",
        headers: { Accept: "application/json", "X-Token": field("token").value },
        body: new URLSearchParams(values),
        signal: AbortSignal.timeout(PATIENCE_MS),
      });
    let answer = await send();
    if (answer.status === 403) {
      const fresh = await fetch("/token", { headers: { Accept: "application/json" } });
      const token = (await fresh.json()).token;
      for (const hidden of document.querySelectorAll("input[name=token]")) {
        hidden.value = token;
      }
      answer = await send();
    }
    return { ok: answer.ok, status: answer.status, ...(await answer.json()) };
  }

  let asked = 0;

  async function ask() {
    const own = (asked += 1);
    const typed = field("body").value.trim();
    const body = typed || remark;
    let found;
    try {
      found = await post(address("/near"), { body });
    } catch {
      return; // No connection: the list comes when there is one.
    }
    if (own !== asked || !found.ok) {
      return; // Something newer was asked for.
    }
    show(found.near);
    propose("area", found.area);
    propose("concepts", typed ? found.concepts : "");
  }

  function propose(name, value) {
    // Only where the person has not chosen something else.
    if (field(name).value === proposed[name]) {
      field(name).value = value;
      proposed[name] = field(name).value;
    }
  }

  function show(rows) {
    const list = near.querySelector("ul");
    const focused = document.activeElement && document.activeElement.value;
    list.replaceChildren();
    for (const found of rows) {
      const row = document.getElementById("near-row").content.querySelector("li").cloneNode(true);
      const link = row.querySelector("a");
      link.href = found.address;
      link.textContent = found.title;
      row.querySelector(".areas").textContent = found.areas;
      row.querySelector(".likely").hidden = !found.likely;
      const passage = row.querySelector(".passage");
      passage.textContent = found.passage;
      passage.hidden = !found.passage;
      const button = row.querySelector("button");
      button.value = found.path;
      button.setAttribute("aria-label", "Link to " + found.title);
      list.append(row);
      if (focused && focused === found.path) {
        button.focus();
      }
    }
    near.hidden = rows.length === 0;
  }

  // Saving

  let retry = 0;
  let pause = FIRST_RETRY_MS;

  let held = null;
  let busy = false;

  function again() {
    // The form as it is by now: one may have typed on, and the list may be another.
    const button = held;
    held = null;
    clearTimeout(retry);
    if (!button || section.hidden) {
      return;
    }
    if (button.isConnected) {
      button.form.requestSubmit(button);
    } else if (button.name === "note") {
      act(address("/link"), { note: button.value }, button);
    }
  }

  function tell(message) {
    refused.textContent = message;
    refused.hidden = !message;
  }

  function sentence(text) {
    return text.charAt(0).toUpperCase() + text.slice(1).replace(/\.$/, "") + ".";
  }

  async function act(path, values, button) {
    clearTimeout(retry);
    held = null;
    button.disabled = busy = true;
    let answer;
    try {
      answer = await post(path, values);
    } catch {
      button.disabled = busy = false;
      status.textContent = "Waiting for a connection. It stays here and is sent again.";
      held = button;
      retry = setTimeout(again, pause);
      pause = Math.min(2 * pause, LONGEST_RETRY_MS);
      return;
    }
    button.disabled = busy = false;
    pause = FIRST_RETRY_MS;
    if (answer.warned) {
      tell(
        `This looks like ${answer.warned.join(" and ")}. A note never needs to say who a patient` +
          " was: remove it, or confirm below that it does not identify anyone."
      );
      status.textContent = "Not saved yet.";
      confirmed.hidden = false;
      confirmed.querySelector("input").focus();
      return;
    }
    if (!answer.ok) {
      tell([answer.error, answer.hint].filter(Boolean).map(sentence).join(" "));
      status.textContent = "Not saved.";
      form.querySelector("details").open = true;
      return;
    }
    forget();
    close(answer);
  }

  function close(answer) {
    const done = document.createElement("p");
    done.textContent = answer.said + " ";
    if (answer.address) {
      const link = document.createElement("a");
      link.href = answer.address;
      link.textContent = "Read it";
      link.className = "touch";
      done.append(link);
    }
    const next = document.createElement("a");
    next.href = "/log/misses";
    next.textContent = "Other misses without a note";
    next.className = "touch";
    done.append(" ", next);
    done.tabIndex = -1;
    section.hidden = true;
    section.before(done);
    done.className = "done";
    clear();
    done.setAttribute("role", "status");
    if (location.pathname !== "/log") {
      done.focus();
    }
  }

  function clear() {
    form.reset();
    for (const name of FIELDS) {
      field(name).value = "";
    }
    confirmed.hidden = true;
    confirmed.querySelector("input").checked = false;
    tell("");
    status.textContent = "";
    show([]);
  }

  form.addEventListener("submit", function (event) {
    event.preventDefault();
    const button = event.submitter;
    if (button.name === "note") {
      act(address("/link"), { note: button.value }, button);
      return;
    }
    keep();
    const values = Object.fromEntries(FIELDS.map((name) => [name, field(name).value]));
    if (confirmed.querySelector("input").checked) {
      values.confirmed = "yes";
    }
    act(address(""), values, button);
  });
  aside.addEventListener("submit", function (event) {
    event.preventDefault();
    act(address("/aside"), { reason: event.submitter.value }, event.submitter);
  });

  let waiting = 0;
  form.addEventListener("input", function (event) {
    keep();
    if (event.target === field("body")) {
      clearTimeout(waiting);
      waiting = setTimeout(ask, PAUSE_MS);
    }
  });
  addEventListener("online", function () {
    pause = FIRST_RETRY_MS;
    if (held) {
      again();
    } else if (!section.hidden) {
      ask();
    }
  });

  // From the form above it: a miss was just logged.
  document.addEventListener("miss", function (event) {
    if (!section.hidden && (busy || held || field("body").value.trim())) {
      return; // One is being seen to; the new miss waits among those without a note.
    }
    for (const done of document.querySelectorAll("p.done")) {
      done.remove();
    }
    question = event.detail.question;
    remark = event.detail.remark || "";
    clear();
    section.querySelector(".which").textContent = question;
    section.hidden = false;
    proposed.area = "";
    proposed.concepts = "";
    recall();
    ask();
  });

  if (question) {
    recall();
    ask();
  }
})();
