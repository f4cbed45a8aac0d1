"use strict";
// Logging at once: each answer goes into the queue of sender.js. Without this file the form works
// alike.
(function () {
  const form = document.getElementById("entry");
  if (!form) {
    return;
  }
  const DOUBLE_TOUCH_MS = 200;
  const ROWS = 12;
  const LASTING = ["source", "round", "area"];

  // Not form.elements.item: that is a method.
  const field = (name) => form.elements.namedItem(name);
  const list = document.getElementById("latest");
  const said = document.getElementById("said");
  const wrong = document.getElementById("wrong");
  const right = form.querySelector("button[value=right]");
  const source = field("source");
  const item = field("item");

  const { queue, keep, drop, newId, moment } = window.sender;
  let last = "";

  document.addEventListener("entry-settled", function (event) {
    const { entry, answer } = event.detail;
    if (entry.read) {
      return;
    }
    if (entry.void || entry.void_id) {
      last = answer.saved ? last : `Not taken back: ${answer.error}.`;
      tell();
      return;
    }
    if (!answer.saved) {
      state(answer.entry, "not taken: " + answer.error);
      offerBack(answer.entry);
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
  });

  document.addEventListener("entries-told", function (event) {
    if (!event.detail.lost) {
      return;
    }
    const what = event.detail.trouble ? "" : " for a connection";
    for (const entry of window.sender.waiting()) {
      state(entry.entry, event.detail.signedOut ? "waiting until you sign in" : "waiting" + what);
    }
  });

  // Showing

  function offerBack(id) {
    const row = rowOf(id);
    if (row) {
      row.querySelector("button").textContent = "Put back";
    }
  }

  function tell() {
    said.textContent = last;
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
    row.querySelector("button").setAttribute("aria-label", "Undo " + question);
    list.prepend(row);
    const none = document.getElementById("none-yet");
    if (none) {
      none.hidden = true;
    }
    const settled = [...list.children].filter((each) => !queue.has(each.dataset.entry));
    settled.slice(ROWS).forEach((each) => each.remove());
  }

  // The form

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
      field(name)[0].checked = true; // That nothing was chosen.
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
    if (button.name === "reason" && field("key").value && field("key").value === field("chosen").value) {
      last = "You chose the key: press Right, or correct a letter.";
      wrong.open = true;
      tell();
      return;
    }
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
    window.sender.send();
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
      window.sender.send();
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

  // One key for each answer, where nothing is being typed.
  const KEYS = {
    r: () => right.click(),
    w: () => wrong.querySelector("summary").click(),
    b: () => form.querySelector("button[value=blank]").click(),
  };
  document.addEventListener("keydown", function (event) {
    const typing = event.target.closest("input:not([type=radio]), textarea, select");
    const numbered = event.target === item && /^[rwb]$/i.test(event.key);
    if (event.ctrlKey || event.metaKey || event.altKey || event.repeat || (typing && !numbered)) {
      return;
    }
    const act = KEYS[event.key.toLowerCase()];
    const sure = form.querySelector(`input[name=certainty][value="${CSS.escape(event.key)}"]`);
    if (act) {
      act();
    } else if (sure && event.key) {
      sure.checked = true;
    } else {
      return;
    }
    event.preventDefault();
  });

  wrong.addEventListener("toggle", function () {
    if (wrong.open && document.activeElement === wrong.querySelector("summary")) {
      form.querySelector("button[name=reason]").focus({ preventScroll: true });
    }
    if (wrong.open && wrong.getBoundingClientRect().bottom > innerHeight) {
      form.querySelector(".numbered").scrollIntoView();
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
  for (const entry of [...queue.values()]) {
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
})();
