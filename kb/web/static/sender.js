"use strict";
// Sends what was logged: answers and readings go into a queue kept in this browser, and from there
// to missbook, from whichever screen is open. Nothing leaves the queue before missbook has said
// that it is saved; each entry carries an id made here, so that one sent twice counts once.
(function () {
  const PREFIX = "missbook-" + document.documentElement.dataset.base + "-";
  const AT_ONCE = 50;
  const FIRST_PAUSE_MS = 2000;
  const LONGEST_PAUSE_MS = 60000;
  const PATIENCE_MS = 15000;
  const CLOCK_MINUTES = 10;

  // One key for each entry, so that two open pages do not overwrite each other.
  const queue = new Map();
  const now = { lost: false, signedOut: false, trouble: "", clock: "", lasting: true };
  let sending = false;
  let again = false;
  let pause = FIRST_PAUSE_MS;
  let timer = 0;

  function keep(entry) {
    queue.set(entry.entry, entry);
    try {
      localStorage.setItem(PREFIX + entry.entry, JSON.stringify(entry));
    } catch {
      now.lasting = false; // Storage denied or full: it stays in this page.
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
      now.lasting = false;
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

  function newId() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  function moment() {
    const date = new Date();
    const offset = -date.getTimezoneOffset();
    const local = new Date(date.getTime() + offset * 60000).toISOString().slice(0, 19);
    const size = Math.abs(offset);
    const two = (number) => String(number).padStart(2, "0");
    return `${local}${offset < 0 ? "-" : "+"}${two(Math.floor(size / 60))}:${two(size % 60)}`;
  }

  async function freshToken() {
    const answer = await fetch("/token", { headers: { Accept: "application/json" } });
    if (!answer.ok) {
      throw new Error(String(answer.status));
    }
    const fresh = (await answer.json()).token;
    const parts = [document, ...[...document.querySelectorAll("template")].map((t) => t.content)];
    for (const part of parts) {
      for (const hidden of part.querySelectorAll("input[name=token]")) {
        hidden.setAttribute("value", fresh);
        hidden.value = fresh;
      }
    }
    return fresh;
  }

  function post(entries, token) {
    return fetch("/log/queue", {
      method: "POST",
      headers: {
        Accept: "application/json",
        "Content-Type": "application/json",
        "X-Token": token,
      },
      body: JSON.stringify({ entries }),
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
  }

  async function deliver(entries) {
    const hidden = document.querySelector("input[name=token]");
    let answer = await post(entries, hidden ? hidden.value : await freshToken());
    if (answer.status === 403) {
      answer = await post(entries, await freshToken()); // missbook was restarted.
    }
    if (!answer.ok) {
      const error = new Error(String(answer.status));
      try {
        error.told = (await answer.json()).error;
      } catch {
        // No word of missbook's.
      }
      throw error;
    }
    return answer.json();
  }

  async function send() {
    if (sending) {
      again = true;
      return;
    }
    const entries = waiting().slice(0, AT_ONCE);
    if (!entries.length) {
      tell();
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
      now.lost = false;
      pause = FIRST_PAUSE_MS;
      // The next lot, if there is one; not where missbook passed one over, which never ended.
      again = again || entries.every((entry) => entry.refused || !queue.has(entry.entry));
    } catch (error) {
      again = false;
      now.lost = true;
      now.signedOut = error.message === "401";
      now.trouble = (!now.signedOut && error.told) || "";
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
    if (answer.saved || entry.void || entry.void_id || entry.read) {
      drop(answer.entry);
    } else {
      entry.refused = answer.error;
      keep(entry);
    }
    document.dispatchEvent(new CustomEvent("entry-settled", { detail: { entry, answer } }));
  }

  function compareClocks(told) {
    // Answers carry this device's time; a day that is wrong would stay in the log unseen.
    const apart = told ? Date.now() - Date.parse(told) : 0;
    const minutes = Math.round(Math.abs(apart) / 60000);
    now.clock = "";
    if (minutes >= CLOCK_MINUTES) {
      const size = minutes < 120 ? `${minutes} minutes` : `${Math.round(minutes / 60)} hours`;
      now.clock = ` The clock of this device is ${size} ${apart < 0 ? "behind" : "ahead"}: `;
      now.clock += apart < 0 ? "answers are dated by it." : "answers are dated as they arrive.";
    }
  }

  // What waits, in a sentence; each screen has a place for it.
  function tell() {
    const count = waiting().length;
    let text = "";
    if (count && now.lost) {
      const [one, more] = waiting().every((entry) => entry.item)
        ? ["answer", "answers"]
        : ["entry", "entries"];
      const many = count === 1 ? `1 ${one} waits` : `${count} ${more} wait`;
      const what = now.signedOut ? " until you sign in again" : " for a connection";
      text = `${many}${now.trouble ? `; missbook says: ${now.trouble}` : what}`;
      text += now.lasting ? "; kept in this browser." : "; do not close this page.";
    }
    const refused = [...queue.values()].filter((entry) => entry.refused).length;
    const place = document.getElementById("waiting");
    place.replaceChildren(text + now.clock);
    if (count && now.lost && now.signedOut) {
      place.append(" ", link("/login", "Sign in in another tab.", true));
    }
    if (refused && location.pathname !== "/log") {
      const many = refused === 1 ? "1 answer was" : `${refused} answers were`;
      place.append(` ${many} not taken: `, link("/log", "see why"), ".");
    }
    place.hidden = !place.textContent;
    document.dispatchEvent(new CustomEvent("entries-told", { detail: now }));
  }

  function link(address, text, apart) {
    const made = document.createElement("a");
    made.href = address;
    made.textContent = text;
    if (apart) {
      made.target = "_blank";
    }
    return made;
  }

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
    if (!now.lasting && waiting().length) {
      event.preventDefault();
    }
  });

  // Seconds that the page has been in view since reading began; an hour at most.
  const stopwatch = (function () {
    const MOST_SECONDS = 3600;
    let spent = 0;
    let since = 0;
    function run() {
      const now = performance.now();
      spent += since ? now - since : 0;
      since = document.hidden ? 0 : now;
    }
    function seconds() {
      run();
      return Math.min(MOST_SECONDS, Math.round(spent / 100) / 10);
    }
    function begin() {
      run();
      spent = 0;
    }
    document.addEventListener("visibilitychange", run);
    run();
    return { seconds, begin };
  })();

  // Where the browser permits it: an encrypted connection, or this machine itself.
  if (window.isSecureContext && "serviceWorker" in navigator) {
    navigator.serviceWorker
      .register("/offline.js")
      .then(() => navigator.serviceWorker.ready)
      .then((worker) => location.pathname === "/" && worker.active.postMessage("keep"))
      .catch(() => {});
  }

  window.sender = { queue, keep, drop, waiting, send, newId, moment, stopwatch };
  recall();
  // Once the screen's own scripts listen.
  document.addEventListener("DOMContentLoaded", send);
})();
