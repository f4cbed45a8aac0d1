// Finds notes by words. Pure: data in, numbers of notes out; nothing here touches the page.
"use strict";

function makeFinder(data, count) {
  const rules = data.rules.map(([old, now]) => [new RegExp(old, "g"), now]);
  const letters = data.letters;
  const groups = data.words.split("\n").map(line => line.split(" "));
  const places = data.places.split("\n");
  const groupsOf = new Map();
  groups.forEach((forms, group) => {
    for (const form of forms) {
      if (!groupsOf.has(form)) groupsOf.set(form, []);
      groupsOf.get(form).push(group);
    }
  });
  let titleWords = null;
  const SHORTEST = 4, EXACT = 3, BEGUN = 1, IN_TITLE = 4;

  function fold(word) {
    for (const [old, now] of rules) word = word.replace(old, now);
    return word;
  }

  function plain(text) {
    return text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase()
      .replace(/[^\x00-\x7f]/g, letter => letters[letter] ? ` ${letters[letter]} ` : letter)
      .replace(/['\u2019]s(?![a-z0-9])/g, "").replace(/['\u2019]/g, "");
  }

  function words(text) {
    return (plain(text).match(/[a-z0-9]+/g) || []).map(fold);
  }

  function notesOf(group) {
    let at = 0;
    return places[group].split(" ").map(step => at += parseInt(step, 36));
  }

  function begun(word, found) {
    groups.forEach((forms, group) => {
      if (!found.has(group) && forms.some(form => form.startsWith(word))) found.set(group, BEGUN);
    });
  }

  // Groups of words that one typed word may mean, each with how well it fits.
  function meant(word) {
    const found = new Map((groupsOf.get(word) || []).map(group => [group, EXACT]));
    if (word.length > 2 || !found.size) begun(word, found);
    if (!found.size && /[ao]$/.test(word)) begun(word.slice(0, -1) + "e", found);
    for (let end = word.length - 1; !found.size && end >= Math.max(SHORTEST, word.length - 3); end--)
      begun(word.slice(0, end), found);
    return found;
  }

  // Numbers of notes, best first; words that are in no note are left out and named.
  function find(text, titles) {
    const asked = [], missing = [], shown = new Set();
    for (const word of new Set(words(text))) {
      const found = meant(word);
      if (found.size) asked.push(found);
      else if (word.length > 3) missing.push(word);
    }
    const matched = new Uint8Array(count), score = new Uint32Array(count);
    for (const found of asked) {
      const level = new Uint8Array(count);
      for (const [group, fit] of found) {
        shown.add(group);
        for (const note of notesOf(group)) level[note] = Math.max(level[note], fit);
      }
      for (let note = 0; note < count; note++)
        if (level[note]) { matched[note]++; score[note] += level[note]; }
    }
    const order = [];
    titleWords = titleWords || titles.map(words);
    for (let note = 0; asked.length && note < count; note++) {
      if (matched[note] < asked.length) continue;
      const inTitle = titleWords[note].filter(word => fits(word, shown)).length;
      score[note] += IN_TITLE * Math.min(inTitle, asked.length);
      order.push(note);
    }
    order.sort((one, other) => score[other] - score[one] || one - other);
    return {order, missing, shown};
  }

  function fits(word, shown) {
    return (groupsOf.get(word) || []).some(group => shown.has(group));
  }

  // A text in pieces: [piece, whether it was looked for].
  function marked(text, shown) {
    const pieces = [];
    let at = 0;
    for (const match of text.matchAll(/[\p{L}\p{N}\p{M}]+/gu)) {
      if (!words(match[0]).some(word => fits(word, shown))) continue;
      if (match.index > at) pieces.push([text.slice(at, match.index), false]);
      pieces.push([match[0], true]);
      at = match.index + match[0].length;
    }
    if (at < text.length) pieces.push([text.slice(at), false]);
    return pieces;
  }

  return {find, marked, words};
}

if (typeof module !== "undefined") module.exports = {makeFinder};
