"use strict";
// Logging at once: each answer goes into a queue kept in this browser, and from there to missbook.
// Nothing is taken out of the queue before missbook has said that it is saved; each entry carries
// an id made here, so that one sent twice counts once. Without this file the form works alike.
(function () {
  const form = document.getElementById("entry");
  if (!form) {
    return;
  }
  const PREFIX = "missbook-" + form.dataset.base + "-";
  const AT_ONCE = 50;
  const FIRST_PAUSE_MS = 2000;
  const LONGEST_PAUSE_MS = 60000;
  const PATIENCE_MS = 15000;
  const DOUBLE_TOUCH_MS = 200;
  const ROWS = 12;
  const CLOCK_MINUTES = 10;
  const LASTING = ["source", "round", "area"];

  // Not form.elements.item: that is a method.
  const field = (name) => form.elements.namedItem(name);
  const list = document.getElementById("latest");
  const said = document.getElementById("said");
  const wrong = document.getElementById("wrong");
  const right = form.querySelector("button[value=right]");
  const source = field("source");
  const item = field("item");

  // The queue. One key for each entry, so that two open pages do not overwrite each other.

  const queue = new Map();
  let lasting = true;

  function keep(entry) {
    queue.set(entry.entry, entry);
    try {
      localStorage.setItem(PREFIX + entry.entry, JSON.stringify(entry));
    } catch {
      lasting = false; // Storage denied or full: it stays in this page.
    }
  }

  function drop(id) {
    queue.delete(id);
    try {
      localStorage.removeItem(PREFIX + id);
    } catch {
      // Nothing was kept there.
    }
  }

  function recall() {
    const found = [];
    let keys = [];
    try {
      keys = Object.keys(localStorage).filter((key) => key.startsWith(PREFIX));
    } catch {
      lasting = false;
    }
    for (const key of keys) {
      try {
        const entry = JSON.parse(localStorage.getItem(key));
        if (entry && entry.entry === key.slice(PREFIX.length)) {
          found.push(entry);
        }
      } catch {
        // Not of our making: it is left alone.
      }
    }
    found.sort((one, other) => one.order - other.order);
    for (const entry of found) {
      entry.tried = true; // It may have arrived although no answer came back.
      queue.set(entry.entry, entry);
    }
  }

  function waiting() {
    return [...queue.values()].filter((entry) => !entry.refused);
  }

  // Sending

  let sending = false;
  let again = false;
  let lost = false;
  let signedOut = false;
  let trouble = ""; // What missbook itself says, such as that its disk is full.
  let pause = FIRST_PAUSE_MS;
  let timer = 0;

  function token() {
    return field("token").value;
  }

  async function freshToken() {
    const answer = await fetch("/token", { headers: { Accept: "application/json" } });
    if (!answer.ok) {
      throw new Error(String(answer.status));
    }
    const fresh = (await answer.json()).token;
    for (const hidden of document.querySelectorAll("input[name=token]")) {
      hidden.value = fresh;
    }
    for (const hidden of rowTemplate().querySelectorAll("input[name=token]")) {
      hidden.setAttribute("value", fresh);
    }
  }

  function post(entries) {
    return fetch("/log/queue", {
      method: "POST",
      headers: {
        Accept: "application/json",
        "Content-Type": "application/json",
        "X-Token": token(),
      },
      body: JSON.stringify({ entries }),
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
  }

  async function deliver(entries) {
    let answer = await post(entries);
    if (answer.status === 403) {
      await freshToken(); // missbook was restarted since this page was loaded.
      answer = await post(entries);
    }
    if (!answer.ok) {
      throw await failure(answer);
    }
    return answer.json();
  }

  async function failure(answer) {
    const error = new Error(String(answer.status));
    try {
      error.told = (await answer.json()).error;
    } catch {
      // No word of missbook's.
    }
    return error;
  }

  async function send() {
    if (sending) {
      again = true;
      return;
    }
    const entries = waiting().slice(0, AT_ONCE);
    if (!entries.length) {
      return;
    }
    sending = true;
    clearTimeout(timer);
    for (const entry of entries) {
      entry.tried = true;
    }
    try {
      const reply = await deliver(entries);
      reply.answers.forEach(settle);
      compareClocks(reply.now);
      lost = false;
      pause = FIRST_PAUSE_MS;
      // The next lot, if there is one; not where missbook passed one over, which never ended.
      again = again || entries.every((entry) => entry.refused || !queue.has(entry.entry));
    } catch (error) {
      again = false;
      lost = true;
      signedOut = error.message === "401";
      trouble = (!signedOut && error.told) || "";
      for (const entry of entries) {
        const what = trouble ? "" : " for a connection";
        state(entry.entry, signedOut ? "waiting until you sign in" : "waiting" + what);
      }
      timer = setTimeout(send, pause);
      pause = Math.min(2 * pause, LONGEST_PAUSE_MS);
    }
    sending = false;
    tell();
    if (again) {
      again = false;
      send();
    }
  }

  function settle(answer) {
    const entry = queue.get(answer.entry);
    if (!entry) {
      return;
    }
    if (!answer.saved && (entry.void || entry.void_id)) {
      drop(answer.entry);
      last = `Not taken back: ${answer.error}.`;
      return;
    }
    if (!answer.saved) {
      entry.refused = answer.error;
      keep(entry);
      state(answer.entry, "not taken: " + answer.error);
      offerBack(answer.entry);
      return;
    }
    drop(answer.entry);
    if (entry.void || entry.void_id) {
      return;
    }
    const twin = list.querySelector(`li[data-id="${answer.id}"]`);
    if (twin) {
      twin.remove();
    }
    const row = rowOf(answer.entry);
    if (row) {
      row.dataset.id = answer.id;
      row.querySelector("input[name=id]").value = answer.id;
      row.querySelector(".told").textContent = answer.told;
      state(answer.entry, row.classList.contains("gone") ? "taken back" : "saved");
    }
    if (answer.miss) {
      document.dispatchEvent(new CustomEvent("miss-saved", { detail: answer.miss }));
    }
  }

  // Showing

  let last = "";
  let clock = "";

  function compareClocks(now) {
    // Answers carry this device's time; a day that is wrong would stay in the log unseen.
    const apart = now ? Date.now() - Date.parse(now) : 0;
    const minutes = Math.round(Math.abs(apart) / 60000);
    clock = "";
    if (minutes >= CLOCK_MINUTES) {
      const size = minutes < 120 ? `${minutes} minutes` : `${Math.round(minutes / 60)} hours`;
      clock = ` The clock of this device is ${size} ${apart < 0 ? "behind" : "ahead"}: `;
      clock += apart < 0 ? "answers are dated by it." : "answers are dated as they arrive.";
    }
  }

  function offerBack(id) {
    const row = rowOf(id);
    if (row) {
      row.querySelector("button").textContent = "Put back";
    }
  }

  function tell() {
    const count = waiting().length;
    let text = last;
    if (count && lost) {
      const many = count === 1 ? "1 entry is" : count + " entries are";
      const what = signedOut ? " until you sign in again" : " for a connection";
      text += ` ${many} waiting${trouble ? `; missbook says: ${trouble}` : what}`;
      text += lasting ? "; kept in this browser." : "; do not close this page.";
    }
    said.textContent = text + clock;
    if (count && lost && signedOut) {
      const link = document.createElement("a");
      link.href = "/login";
      link.target = "_blank";
      link.textContent = "Sign in in another tab.";
      said.append(" ", link);
    }
  }

  function rowTemplate() {
    return document.getElementById("row").content;
  }

  function rowOf(id) {
    return list.querySelector(`li[data-entry="${id}"]`);
  }

  function state(id, text) {
    const row = rowOf(id);
    if (row) {
      row.querySelector(".state").textContent = text;
    }
  }

  function describe(entry) {
    const parts = [entry.outcome === "blank" ? "not answered" : entry.outcome];
    if (entry.reason) {
      const button = document.querySelector(`button[name=reason][value="${entry.reason}"]`);
      parts.push(button ? button.textContent.toLowerCase() : entry.reason);
    }
    if (entry.chosen || entry.key) {
      parts.push(`chose ${entry.chosen || "?"}, key ${entry.key || "?"}`);
    }
    if (entry.certainty) {
      parts.push("certainty " + entry.certainty);
    }
    if (entry.remark) {
      parts.push(entry.remark);
    }
    return parts.join("; ");
  }

  function showRow(entry, text) {
    const question = entry.source + ":" + entry.item;
    const row = rowTemplate().querySelector("li").cloneNode(true);
    row.dataset.entry = entry.entry;
    row.querySelector(".subject").textContent = question;
    row.querySelector(".told").textContent = describe(entry);
    row.querySelector(".state").textContent = text;
    row.querySelector("button").setAttribute("aria-label", "Take back " + question);
    list.prepend(row);
    const none = document.getElementById("none-yet");
    if (none) {
      none.hidden = true;
    }
    const settled = [...list.children].filter((each) => !queue.has(each.dataset.entry));
    settled.slice(ROWS).forEach((each) => each.remove());
  }

  // The form

  function newId() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  function moment() {
    const now = new Date();
    const offset = -now.getTimezoneOffset();
    const local = new Date(now.getTime() + offset * 60000).toISOString().slice(0, 19);
    const size = Math.abs(offset);
    const two = (number) => String(number).padStart(2, "0");
    return `${local}${offset < 0 ? "-" : "+"}${two(Math.floor(size / 60))}:${two(size % 60)}`;
  }

  function nextItem(text) {
    const match = /^(.*?)(\d{1,15})$/.exec(text.trim());
    if (!match) {
      return "";
    }
    return match[1] + String(Number(match[2]) + 1).padStart(match[2].length, "0");
  }

  function byNumber() {
    // The area that the numbering tells, as study.yaml declares it.
    const option = source.selectedOptions[0];
    const spans = option && option.dataset.spans ? JSON.parse(option.dataset.spans) : [];
    const number = /^\d+$/.test(item.value.trim()) ? Number(item.value) : -1;
    const span = spans.find(([first, end]) => first <= number && number <= end);
    const most = option ? Number(option.dataset.items || 0) : 0;
    const told = document.getElementById("by-number");
    const other = field("other").value.trim();
    told.textContent = span && !other ? span[2] : "";
    if (!other && most && number > most) {
      told.textContent = `${option.textContent} has ${most} items.`;
    }
    document.getElementById("area-field").hidden = Boolean(span && !other);
  }

  function useOther() {
    const name = field("other").value.trim().toLowerCase();
    if (!name) {
      return;
    }
    if (![...source.options].some((option) => option.value === name)) {
      source.append(new Option(name, name));
    }
    source.value = name;
    field("other").value = "";
    field("other").closest("details").open = false;
  }

  function readForm(button) {
    const entry = { entry: newId(), at: moment(), order: Date.now(), item: item.value.trim() };
    for (const name of LASTING) {
      entry[name] = field(name).value;
    }
    if (document.getElementById("area-field").hidden) {
      entry.area = "";
    }
    entry.certainty = field("certainty").value;
    entry.outcome = button.name === "reason" ? "wrong" : button.value;
    if (entry.outcome === "wrong") {
      entry.reason = button.value;
      entry.chosen = field("chosen").value;
      entry.key = field("key").value;
    }
    entry.remark = wrong.open ? field("remark").value.trim() : "";
    return entry;
  }

  function clearOptional() {
    for (const name of ["certainty", "chosen", "key"]) {
      field(name).value = "";
    }
    field("remark").value = "";
    wrong.open = false;
  }

  function putBack(entry) {
    for (const name of [...LASTING, "item", "certainty", "chosen", "key", "remark"]) {
      field(name).value = entry[name] || "";
    }
    wrong.open = entry.outcome === "wrong";
    byNumber();
  }

  let touched = -Infinity; // The first touch is none too soon.

  form.addEventListener("submit", function (event) {
    const button = event.submitter;
    if (!button || !["outcome", "reason"].includes(button.name)) {
      return;
    }
    event.preventDefault();
    if (performance.now() - touched < DOUBLE_TOUCH_MS) {
      return;
    }
    touched = performance.now();
    useOther();
    const entry = readForm(button);
    keep(entry);
    showRow(entry, "being saved");
    last = `${entry.source}:${entry.item} ${describe(entry)}.`;
    if (entry.outcome !== "right") {
      const detail = { question: entry.source + ":" + entry.item, remark: entry.remark };
      document.dispatchEvent(new CustomEvent("miss", { detail }));
    }
    clearOptional();
    item.value = nextItem(entry.item);
    byNumber();
    if (button.name === "reason") {
      right.focus({ preventScroll: true });
    }
    if (!item.value) {
      item.focus();
    }
    tell();
    send();
  });

  list.addEventListener("submit", function (event) {
    event.preventDefault();
    const row = event.target.closest("li");
    const id = row.dataset.entry;
    const entry = queue.get(id);
    if (entry && (entry.refused || !entry.tried)) {
      drop(id);
      row.remove();
      putBack(entry);
    } else {
      const back = { entry: newId(), order: Date.now() };
      keep(id ? { ...back, void: id } : { ...back, void_id: row.dataset.id });
      row.classList.add("gone");
      state(id, "taken back");
      row.querySelector(".state").textContent = "taken back";
      row.querySelector("form").hidden = true;
      const question = row.querySelector(".subject").textContent;
      const colon = question.indexOf(":");
      source.value = question.slice(0, colon);
      item.value = question.slice(colon + 1);
      byNumber();
      last = `${question} is taken back.`;
      send();
    }
    item.focus({ preventScroll: true });
    tell();
  });

  // Enter never logs by itself; it leads to what comes next.
  form.addEventListener("keydown", function (event) {
    if (event.key !== "Enter") {
      return;
    }
    if (event.target === item) {
      right.focus();
      event.preventDefault();
    } else if (event.target === field("remark")) {
      form.querySelector("button[name=reason]").focus();
      event.preventDefault();
    }
  });

  wrong.addEventListener("toggle", function () {
    if (wrong.open && document.activeElement === wrong.querySelector("summary")) {
      form.querySelector("button[name=reason]").focus({ preventScroll: true });
    }
  });

  for (const typed of [source, item, field("other")]) {
    typed.addEventListener("input", byNumber);
  }
  source.addEventListener("change", function () {
    // A paper is a round of its own, and a bank is not one.
    const paper = "paper" in source.selectedOptions[0].dataset;
    const round = field("round");
    if (paper || round.value === "paper") {
      round.value = paper ? "paper" : "";
    }
    byNumber();
  });
  addEventListener("online", function () {
    pause = FIRST_PAUSE_MS;
    send();
  });
  document.addEventListener("visibilitychange", function () {
    if (!document.hidden) {
      send();
    }
  });
  addEventListener("beforeunload", function (event) {
    if (!lasting && waiting().length) {
      event.preventDefault();
    }
  });

  recall();
  for (const entry of queue.values()) {
    if (entry.item) {
      showRow(entry, entry.refused ? "not taken: " + entry.refused : "waiting for a connection");
      if (entry.refused) {
        offerBack(entry.entry);
      }
      putBack({ ...entry, item: nextItem(entry.item), outcome: "" });
    }
  }
  clearOptional();
  byNumber();
  history.replaceState(null, "", "/log");
  tell();
  send();
})();
