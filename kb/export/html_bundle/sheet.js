// Answers as typed -> the text of an answer sheet. Pure; nothing here touches the page.
"use strict";

const MOST_IN_RANGE = 300;

// "1041" or "1050-1059" or "1050-59" -> {first, last}, or {wrong: what is wrong}.
function readItem(text) {
  const match = /^\s*(\d{1,9})(?:\s*[-\u2010-\u2014]\s*(\d{1,9}))?\s*$/.exec(text);
  if (!match) return {wrong: "Write the number of a question, or a range such as 1050-1059."};
  const first = Number(match[1]);
  let last = match[2] === undefined ? first : Number(match[2]);
  if (match[2] !== undefined && match[2].length < match[1].length)
    last = Number(match[1].slice(0, match[1].length - match[2].length) + match[2]);
  if (last < first || last >= first + MOST_IN_RANGE)
    return {wrong: `A range goes up, over at most ${MOST_IN_RANGE} questions.`};
  return {first, last};
}

function sameHeading(one, other) {
  return ["day", "source", "area", "round"].every(part => one[part] === other[part]);
}

// Entries with one more. The same question or range again takes the place of the old one.
function withEntry(entries, entry) {
  const rivals = entries.filter(old => old.day === entry.day && old.source === entry.source &&
    old.round === entry.round && old.first <= entry.last && entry.first <= old.last &&
    old.last - old.first === entry.last - entry.first);
  const clash = rivals.find(old => old.first !== entry.first);
  if (clash) return {wrong: `${item(clash)} holds some of these questions already.`};
  return {entries: [...entries.filter(old => !rivals.includes(old)), entry],
    replaced: rivals.length > 0};
}

function item(entry) {
  return entry.first === entry.last ? `${entry.first}` : `${entry.first}-${entry.last}`;
}

function entryLine(entry) {
  const remark = entry.remark.replace(/[\p{Cc}\p{Cf}\u2028\u2029]+/gu, " ").trim();
  return [
    item(entry),
    {right: remark || entry.reason ? "ok" : "", wrong: "x", blank: "blank"}[entry.outcome],
    entry.chosen && entry.key ? `${entry.chosen}>${entry.key}` : "",
    entry.certainty ? `c${entry.certainty}` : entry.guess ? "c1" : "",
    entry.reason,
    remark ? `// ${remark}` : "",
  ].filter(Boolean).join(" ");
}

function headingLine(entry) {
  return [entry.day, `source ${entry.source}`, entry.area, entry.round].filter(Boolean).join(" ");
}

// The whole sheet: each heading once, in the order in which it was first used.
function sheetText(entries) {
  const parts = [];
  for (const entry of entries) {
    let part = parts.find(rows => sameHeading(rows[0], entry));
    if (!part) parts.push(part = []);
    part.push(entry);
  }
  return parts.map(rows => [headingLine(rows[0]), ...rows.map(entryLine)].join("\n") + "\n")
    .join("\n");
}

if (typeof module !== "undefined")
  module.exports = {readItem, withEntry, entryLine, sheetText};
