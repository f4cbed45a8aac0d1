// The page of a carried file: finding notes, and answers kept until they are logged.
"use strict";

const by = id => document.getElementById(id);

function make(tag, text, marks = {}) {
  const made = Object.assign(document.createElement(tag), marks);
  if (text) made.textContent = text;
  return made;
}

// Finding

(function () {
  const articles = [...document.querySelectorAll("article")];
  const titles = articles.map(article => article.querySelector("h3").textContent);
  const AT_ONCE = 20, BEFORE = 50, LENGTH = 170;
  const SHORT_QUERY = 6;
  const NOTHING = {order: [], missing: [], searched: [], answered: true, shown: new Set()};
  let finder = null, last = null, shownCount = AT_ONCE;

  function finderOnce() {
    if (!finder) finder = makeFinder(JSON.parse(by("index").textContent), articles.length);
    return finder;
  }

  function write(parent, pieces) {
    for (const [text, isMarked] of pieces)
      parent.append(isMarked ? make("mark", text) : document.createTextNode(text));
  }

  // The piece of a note around the first word that was looked for.
  function passage(article) {
    const text = article.querySelector(".text").textContent.replace(/\s+/g, " ").trim();
    const pieces = finder.marked(text, last.shown);
    const lead = pieces.length && !pieces[0][1] && pieces.length > 1 ? pieces[0][0].length : 0;
    let start = Math.max(0, lead - BEFORE);
    if (start) start = text.indexOf(" ", start) + 1;
    let end = start + LENGTH;
    end = end < text.length ? text.lastIndexOf(" ", end) : text.length;
    if (end <= start) end = start + LENGTH;
    const cut = finder.marked(text.slice(start, end), last.shown);
    if (start) cut.unshift(["\u2026 ", false]);
    if (end < text.length) cut.push([" \u2026", false]);
    return cut;
  }

  function show() {
    const list = by("results");
    list.replaceChildren(...last.order.slice(0, shownCount).map(note => {
      const row = make("li"), head = make("p", "", {className: "subject"});
      const link = make("a", "", {href: `#${articles[note].id}`});
      write(link, finder.marked(titles[note], last.shown));
      head.append(link);
      const text = make("p", "", {className: "passage"});
      write(text, passage(articles[note]));
      row.append(head, text);
      return row;
    }));
    list.hidden = !last.order.length;
    by("more").hidden = last.order.length <= shownCount;
  }

  function find() {
    const text = by("words").value;
    shownCount = AT_ONCE;
    last = text.trim() ? finderOnce().find(text, titles) : NOTHING;
    const count = last.order.length;
    const told = !text.trim() ? "" : count === 1 ? "1 note" : count ? `${count} notes` : "Nothing found.";
    const lacking = last.missing.length && text.trim().split(/\s+/).length <= SHORT_QUERY
      ? ` No note has: ${last.missing.join(", ")}.` : "";
    const searched = last.searched.map(([typed, meant]) => ` No note has '${typed}': searched ${meant}.`);
    by("found").textContent = (last.answered ? told + lacking
      : `${lacking.trim()}${count ? " These only share the other words." : ""}`) + searched.join("");
    unmark();
    show();
  }

  function unmark() {
    for (const mark of document.querySelectorAll("article mark")) {
      const parent = mark.parentNode;
      mark.replaceWith(mark.textContent);
      parent.normalize();
    }
  }

  // Marks in the note that was gone to what was looked for.
  function markIn(article) {
    unmark();
    if (!last || !last.shown.size) return;
    const walker = document.createTreeWalker(article, NodeFilter.SHOW_TEXT), nodes = [];
    while (walker.nextNode()) nodes.push(walker.currentNode);
    for (const node of nodes) {
      const pieces = finder.marked(node.data, last.shown);
      if (!pieces.some(piece => piece[1])) continue;
      const parts = document.createDocumentFragment();
      write(parts, pieces);
      node.replaceWith(parts);
    }
  }

  function gone() {
    const target = by(location.hash.slice(1));
    if (!target) return;
    if (target.matches("article")) markIn(target);
    if (target.matches("details")) target.open = true;
  }

  by("find").hidden = false;
  by("find-form").addEventListener("submit", event => event.preventDefault());
  by("words").addEventListener("input", find);
  by("more").addEventListener("click", () => { shownCount += AT_ONCE; show(); });
  addEventListener("hashchange", gone);
  gone();
})();

// Answers

(function () {
  const form = by("answer-form");
  if (!form) return;
  const PLACE = `missbook answers ${form.dataset.base}`;
  const FIELDS = ["day", "source", "area", "round", "item", "certainty", "chosen", "key", "remark"];
  const ONCE = ["certainty", "chosen", "key", "remark"];
  const field = name => form.elements.namedItem(name);
  const value = name => field(name).value;
  const first = name => field(name).length && !field(name).options ? field(name)[0] : field(name);
  let entries = [], kept = true, sure = 0;

  function today() {
    const now = new Date();
    return [now.getFullYear(), now.getMonth() + 1, now.getDate()]
      .map(part => String(part).padStart(2, "0")).join("-");
  }

  function sound(entry) {
    const texts = ["source", "area", "round", "chosen", "key", "reason", "remark"];
    return entry && /^\d{4}-\d{2}-\d{2}$/.test(entry.day) && entry.source &&
      texts.every(name => typeof entry[name] === "string") &&
      Number.isInteger(entry.first) && Number.isInteger(entry.last) &&
      ["right", "wrong", "blank"].includes(entry.outcome);
  }

  function read() {
    let text = null;
    try {
      text = localStorage.getItem(PLACE);
      const found = JSON.parse(text || "{}");
      return {entries: (found.entries || []).filter(sound), typed: found.typed || {}};
    } catch (error) {
      // What cannot be read is set aside, not written over.
      try { if (text) localStorage.setItem(`${PLACE} unreadable`, text); } catch { kept = false; }
      if (text === null) kept = false;
      return {entries, typed: {}};
    }
  }

  function keep() {
    const typed = Object.fromEntries(FIELDS.map(name => [name, value(name)]));
    try {
      localStorage.setItem(PLACE, JSON.stringify({entries, typed}));
      kept = read().entries.length === entries.length;
    } catch { kept = false; }
    by("not-kept").hidden = kept;
  }

  function say(text) { by("said").textContent = text; }

  function show() {
    const text = sheetText(entries);
    by("sheet").value = text;
    by("sheet").rows = Math.min(12, Math.max(3, text.split("\n").length));
    by("count").textContent = entries.length === 1 ? "1 answer line" : `${entries.length} answer lines`;
    by("taken").hidden = !entries.length;
    by("lines").replaceChildren(...entries.map(entry => {
      const row = make("li"), told = make("span", `${entry.source} ${entryLine(entry)}`);
      const button = make("button", "Remove", {type: "button", className: "second"});
      button.setAttribute("aria-label", `Remove ${entry.source} ${entryLine(entry)}`);
      button.addEventListener("click", () => {
        change(entries.filter(one => !same(one, entry)));
        say(`${entryLine(entry)} was removed.`);
        field("item").focus();
      });
      row.append(told, button);
      return row;
    }));
  }

  const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);

  function change(now) {
    entries = now;
    sure = 0;
    by("clear").textContent = "Remove all: they are logged";
    keep();
    show();
  }

  function problem(outcome) {
    if (!field("day").value) return ["day", "Which day were they answered?"];
    if (field("day").value > today()) return ["day", "That day is in the future."];
    if (!field("source").value) return ["source", "Which source?"];
    const item = readItem(field("item").value);
    if (item.wrong) return ["item", item.wrong];
    const {chosen, key} = Object.fromEntries(["chosen", "key"].map(n => [n, value(n)]));
    if (outcome === "wrong" && (!chosen !== !key)) return ["chosen", "Give both letters, or none."];
    if (outcome === "wrong" && chosen && chosen === key) return ["key", "You chose the key: that is right."];
    return null;
  }

  form.addEventListener("submit", event => {
    event.preventDefault();
    const button = event.submitter;
    const outcome = !button ? "right" : button.name === "reason" ? "wrong" : button.value;
    const wrong = problem(outcome);
    for (const name of FIELDS) first(name).removeAttribute("aria-invalid");
    if (wrong) {
      say(wrong[1]);
      first(wrong[0]).setAttribute("aria-invalid", "true");
      first(wrong[0]).focus();
      return;
    }
    const {first: from, last} = readItem(field("item").value);
    const entry = {
      day: value("day"), source: value("source"), area: value("area"), round: value("round"),
      first: from, last, outcome, reason: outcome === "wrong" ? button.value : "",
      chosen: outcome === "wrong" ? value("chosen") : "",
      key: outcome === "wrong" ? value("key") : "",
      certainty: outcome === "blank" ? "" : value("certainty"),
      remark: value("remark").trim(),
    };
    const added = withEntry(read().entries, entry);
    if (added.wrong) { say(added.wrong); field("item").focus(); return; }
    for (const name of ONCE) {
      if (first(name) === field(name)) field(name).value = "";
      else first(name).checked = true;
    }
    by("wrong").open = false;
    field("item").value = last + 1;
    change(added.entries);
    say(`${entryLine(entry)}: ${{right: "right", wrong: "wrong", blank: "not answered"}[outcome]}` +
      `${added.replaced ? ", in place of what stood there" : ""}.`);
    field("item").focus();
    field("item").select();
  });

  by("copy").addEventListener("click", async () => {
    const text = by("sheet").value;
    try {
      await navigator.clipboard.writeText(text);
      say("Copied.");
    } catch {
      by("sheet").focus();
      by("sheet").select();
      say(document.execCommand("copy") ? "Copied." : "Copy the text below by hand.");
    }
  });

  by("save").addEventListener("click", () => {
    const file = URL.createObjectURL(new Blob([by("sheet").value], {type: "text/plain"}));
    make("a", "", {href: file, download: `answers-${today()}.txt`}).click();
    setTimeout(() => URL.revokeObjectURL(file), 60000);
    say("Saved, if this browser saves files. If not, copy the text.");
  });

  by("clear").addEventListener("click", () => {
    if (!sure++) {
      by("clear").textContent = `Press again to remove ${by("count").textContent}`;
      return;
    }
    change([]);
    say("All removed.");
    field("item").focus();
  });

  form.addEventListener("input", keep);
  addEventListener("storage", event => {
    if (event.key === PLACE) { entries = read().entries; show(); }
  });
  addEventListener("beforeunload", event => {
    if (!kept && entries.length) event.preventDefault();
  });

  by("answers-body").hidden = false;
  by("no-form").hidden = true;
  const before = read();
  entries = before.entries;
  field("day").value = today();
  for (const name of FIELDS) {
    const old = before.typed[name];
    if (old === undefined || name === "day") continue;
    field(name).value = old;
    if (field(name).type === "select-one" && field(name).selectedIndex < 0) field(name).selectedIndex = 0;
  }
  field("day").max = today();
  keep();
  show();
})();
