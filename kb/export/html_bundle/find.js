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
  const stop = new Set(data.stop.split(" "));
  const absent = new Set(data.absent.split("\n")), common = new Set(data.common.split(" "));
  const values = new Map(data.values.map(([name, ...range]) => [name, range]));
  const related = new Map(), stems = [];
  for (const line of data.instead.split("\n").filter(Boolean)) {
    const [name, group] = line.split(":");
    if (/^-|-$/.test(name)) stems.push([name, group]);
    else related.set(name, [...(related.get(name) || []), group]);
  }
  let titleWords = null;
  const SHORTEST = 4, EXACT = 1, BEGUN = 0.5, INSTEAD = 0.5, IN_TITLE = 1;
  const SURE = 5, LONG = 8, STEM = 6, PIECES = 4, TOPIC = 4, ANSWERED = 0.42, NEAR = 0.5;
  const NAME = 6, EVERYDAY = 0.4;
  const OPPOSITES = [["hyper", "hypo"], ["brady", "tachy"], ["macro", "micro"], ["intra", "inter"]];

  function fold(word) {
    for (const [old, now] of rules) word = word.replace(old, now);
    return word;
  }

  function plain(text) {
    return text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase()
      .replace(/[^\x00-\x7f]/g, letter => letters[letter] ? ` ${letters[letter]} ` : letter)
      .replace(/['\u2019]s(?![a-z0-9])/g, "").replace(/['\u2019]/g, "")
      .replace(/\b(ba|ca|co|cu|fe|hg|mg|mn|ni|pb|sr|zn)[23]\+/g, "$1");
  }

  function words(text) {
    return (plain(text).match(/[0-9]+\.[0-9]+|[a-z0-9]+/g) || []).map(fold);
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

  // Groups of words that begin so; of a British or American stem too, and without its ending.
  function beginning(word) {
    const found = new Map();
    begun(word, found);
    if (!found.size && /[ao]$/.test(word)) begun(word.slice(0, -1) + "e", found);
    for (let end = word.length - 1; !found.size && end >= Math.max(SHORTEST, word.length - 3); end--)
      begun(word.slice(0, end), found);
    return found;
  }

  // Slips between two words, at most `most`: letters added, left out, wrong or changed about.
  function slips(one, other, most) {
    if (Math.abs(one.length - other.length) > most) return most + 1;
    let before = [], last = [...Array(other.length + 1).keys()];
    for (let row = 1; row <= one.length; row++) {
      const now = [row];
      for (let at = 1; at <= other.length; at++) {
        const same = one[row - 1] === other[at - 1];
        now[at] = Math.min(last[at] + 1, now[at - 1] + 1, last[at - 1] + (same ? 0 : 1));
        if (row > 1 && at > 1 && one[row - 1] === other[at - 2] && one[row - 2] === other[at - 1])
          now[at] = Math.min(now[at], before[at - 2] + 1);
      }
      before = last;
      last = now;
    }
    return last[other.length];
  }

  // The word of the notes that one is a slip for, where that is sure.
  function meantBy(word) {
    if (word.length < SURE || /[0-9]/.test(word)) return "";
    const most = word.length < LONG ? 1 : 2;
    const opposite = known => OPPOSITES.some(pair => pair.some((mine, at) =>
      word.startsWith(mine) && known.startsWith(pair[1 - at])));
    let best = "", least = most + 1;
    for (const known of [...groupsOf.keys(), ...related.keys()]) {
      if (known[0] !== word[0] || opposite(known)) continue;
      const count = slips(word, known, most);
      if (count < least) [best, least] = [known, count];
    }
    return best;
  }

  // Names under which the notes stand that say what a word or words are related to.
  function instead(word) {
    const named = related.get(word) || [];
    if (named.length || word.length < STEM) return named;
    const fit = stems.filter(([stem]) => stem[0] === "-" ? word.endsWith(stem.slice(1))
      : word.startsWith(stem.slice(0, -1)));
    const longest = Math.max(0, ...fit.map(([stem]) => stem.length));
    return fit.filter(([stem]) => stem.length === longest).map(([, group]) => group);
  }

  // What a value outside its usual range is called: `na 118`.
  function outside(name, value) {
    const [least, most, below, above] = values.get(name) || [];
    if (!least || !/^[0-9.]+$/.test(value || "")) return "";
    return Number(value) < least ? below : Number(value) > most ? above : "";
  }

  // What is asked for, each with the groups that answer it: exact words, joined pieces, beginnings,
  // related names, and the word a slip is for.
  function asked(typed) {
    const found = [], missing = [], searched = [];
    const exact = word => new Map((groupsOf.get(word) || []).map(group => [group, EXACT]));
    for (let at = 0; at < typed.length; at++) {
      let taken = 0;
      for (let count = Math.min(NAME, typed.length - at); count > 1 && !taken; count--) {
        const name = typed.slice(at, at + count).join(" ");
        if (absent.has(name)) { missing.push(name); taken = count; }
      }
      for (let count = Math.min(PIECES, typed.length - at); count > 1 && !taken; count--) {
        const pieces = typed.slice(at, at + count);
        const figure = pieces.some(piece => /[0-9]/.test(piece)) && pieces.some(p => /[a-z]/.test(p));
        const groups = figure || count === 2 ? exact(pieces.join("")) : new Map();
        if (!groups.size) for (const name of related.get(pieces.join(" ")) || [])
          for (const group of groupsOf.get(name) || []) groups.set(group, EXACT);
        if (groups.size) {
          if (!figure) pieces.forEach(piece => exact(piece).forEach((fit, g) => groups.set(g, BEGUN)));
          found.push(groups);
          taken = count;
        }
      }
      if (taken) { at += taken - 1; continue; }
      const word = typed[at];
      const groups = exact(word);
      const named = outside(word, typed[at + 1]);
      for (const group of exact(named).keys()) groups.set(group, EXACT);
      if (stop.has(word) && !groups.size) continue;
      if (word.length > 2 || !groups.size) beginning(word).forEach((fit, group) => {
        if (!groups.has(group)) groups.set(group, fit);
      });
      for (const name of instead(word)) for (const group of groupsOf.get(name) || [])
        groups.set(group, Math.max(groups.get(group) || 0, INSTEAD));
      if (!groups.size) {
        const meant = meantBy(word);
        if (meant) searched.push([word, meant]);
        if (meant) exact(meant).forEach((fit, group) => groups.set(group, fit));
        for (const name of instead(meant)) for (const group of groupsOf.get(name) || [])
          groups.set(group, Math.max(groups.get(group) || 0, INSTEAD));
      }
      if (groups.size) found.push(groups);
      else if (/[0-9]/.test(word) && word.length > 1 && /[a-z]/.test(word)) {
        for (const piece of word.match(/[0-9]+|[a-z]+/g)) if (exact(piece).size) found.push(exact(piece));
      } else if (!/^[0-9.]+$/.test(word)) missing.push(word);
    }
    return {found, missing, searched};
  }

  const rarity = held => Math.log(1 + (count - held + 0.5) / (held + 0.5));

  // Numbers of notes, best first: those with every word, or else with most of what is rare. Words in
  // no note are named; where they carry the question, the notes only share the rest.
  function find(text, titles) {
    const {found, missing, searched} = asked([...new Set(words(text))]);
    const matched = new Uint16Array(count), share = new Float64Array(count);
    const score = new Float64Array(count), shown = new Set();
    titleWords = titleWords || titles.map(words);
    const lost = missing.map(word => common.has(word) ? EVERYDAY : 1);
    let whole = lost.reduce((sum, one) => sum + one, 0) * rarity(0);
    for (const groups of found) {
      const level = new Float64Array(count);
      for (const [group, fit] of groups) {
        shown.add(group);
        for (const note of notesOf(group)) level[note] = Math.max(level[note], fit);
      }
      const worth = rarity(level.reduce((held, fit) => held + (fit ? 1 : 0), 0));
      whole += worth;
      for (let note = 0; note < count; note++) if (level[note]) {
        matched[note]++;
        share[note] += worth;
        score[note] += worth * level[note];
      }
    }
    for (let note = 0; note < count; note++) if (matched[note]) {
      const inTitle = titleWords[note].filter(word => fits(word, shown)).length;
      score[note] += IN_TITLE * Math.min(inTitle, found.length);
    }
    const best = share.reduce((most, one) => Math.max(most, one), 0);
    const all = found.length <= TOPIC && matched.some(held => held === found.length);
    const order = [...score.keys()].filter(note => found.length && matched[note] &&
      (all ? matched[note] === found.length : share[note] >= NEAR * best));
    order.sort((one, other) => score[other] - score[one] || one - other);
    const answered = !missing.length || found.length > TOPIC || best >= ANSWERED * whole;
    const typed = new Map();
    for (const [written] of text.matchAll(/[\p{L}\p{N}\p{M}'\u2019]+/gu))
      for (const word of words(written)) typed.set(word, written.replace(/['\u2019]s$/, ""));
    const asTyped = name => name.split(" ").map(word => typed.get(word) || word).join(" ");
    return {order, missing: missing.map(asTyped), searched, answered, shown};
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
