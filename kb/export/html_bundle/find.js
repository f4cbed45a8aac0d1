// Finds notes by words, by the rules and tables of the search of the base. Pure: data in, numbers
// of notes out; nothing here touches the page.
"use strict";

function makeFinder(data, count) {
  // As in the search of the base, where each is explained.
  const K1 = 1.5, B = 0.75, BARE = 0.5, RELATED_WEIGHT = 0.3, PHRASE_WEIGHT = 0.6, LEAD = 1e-3;
  const SURE = 5, LONG = 8, STEM = 5, PIECES = 4, JOINED = 5, TOPIC = 4, ANSWERED = 0.26, NAME = 7;
  const EVERYDAY = 0.2, RELATED = 6, SENTENCE = 8, SHORTEST = 4, COMPARED = 0.4;
  const PASSING = 0.8, TITLE = 3, KIND = 3;

  const rules = data.rules.map(([old, now]) => [new RegExp(old, "g"), now]);
  const set = text => new Set(text.split(" "));
  const stop = set(data.stop), capitals = set(data.capitals), common = set(data.common);
  const values = new Map(data.values.map(([name, ...range]) => [name, range]));
  const mean = Math.max(1, data.lengths.reduce((sum, one) => sum + one, 0) / Math.max(1, count));
  const norms = data.lengths.map(length => K1 * (1 - B) + K1 * B * length / mean);
  const places = data.places.split("\n"), lists = new Map();
  const listOf = new Map();
  const first = new Map(), right = [];
  data.words.split("\n").forEach((row, list) => {
    for (const form of row.split(" ")) if (form && !listOf.has(form)) {
      listOf.set(form, list);
      first.set(form, row.split(" ")[0]);
    }
  });
  for (const row of data.right.split("\n")) for (const form of row.split(" ")) if (!first.has(form)) {
    right.push(form);
    first.set(form, row.split(" ")[0]);
  }
  const spelt = [...listOf.keys()];
  const names = new Map(), stems = [];
  for (const line of data.names.split("\n").filter(Boolean)) {
    const [head, same, weak] = line.split(":");
    const [, name, kind] = head.match(/^(.*) ([swa]?)$/);
    const entry = {kind: kind || "", same: numbers(same), weak: numbers(weak)};
    if (/^-|-$/.test(name)) { stems.push([name, entry.weak]); continue; }
    const held = names.get(name);
    if (held) { held.same.push(...entry.same); held.weak.push(...entry.weak); } else names.set(name, entry);
  }

  function numbers(text) {
    return text ? text.split(" ").map(Number) : [];
  }

  function fold(word) {
    for (const [old, now] of rules) word = word.replace(old, now);
    return word;
  }

  // The words of a text as typed, without accents and charges.
  function parted(text) {
    return text.normalize("NFKD").replace(/\p{M}/gu, "")
      .replace(/[^\x00-\x7f]/g, letter => data.letters[letter] ? ` ${data.letters[letter]} ` : letter)
      .replace(/['\u2019]s(?![A-Za-z0-9])/g, "").replace(/['\u2019]/g, "")
      .replace(/\b(Ba|Ca|Co|Cu|Fe|Hg|Mg|Mn|Ni|Pb|Sr|Zn)[23]\+/g, "$1")
      .match(/[0-9]+\.[0-9]+|[A-Za-z0-9]+/g) || [];
  }

  // An abbreviation in capitals without the small s of its plural.
  const oneOf = word => word.replace(/^([A-Z][A-Z0-9]+|[0-9]+[A-Z][A-Z0-9]*)s$/, "$1");

  function folded(word) {
    return capitals.has(word) && stop.has(word.toLowerCase()) ? `=${fold(word.toLowerCase())}`
      : fold(oneOf(word).toLowerCase());
  }

  const words = text => parted(text).map(folded);
  const isFigure = word => /^[0-9.]+$/.test(word);

  // Notes of a list with their weights.
  function notesOf(list) {
    let held = lists.get(list), at = 0;
    if (held) return held;
    held = new Map(places[list].split(" ").map(step => {
      const [gap, weight] = step.split(".");
      return [at += parseInt(gap, 36), weight ? parseInt(weight, 36) : 1];
    }));
    lists.set(list, held);
    return held;
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

  // The word that one is a slip for, where that is sure.
  function meantBy(raw) {
    const word = folded(raw), one = oneOf(raw);
    if (word.length < SURE || /[^a-z]/.test(word) || one === one.toUpperCase() || first.has(word)) return "";
    const most = word.length < LONG ? 1 : 2;
    const opposite = known => data.opposites.some(pair => pair.some((mine, at) =>
      word.startsWith(mine) && known.startsWith(pair[1 - at])));
    const shared = known => { let at = 0; while (at < word.length && word[at] === known[at]) at++; return at; };
    const single = text => text.replace(/(.)\1+/g, "$1");
    let best = "", least = [most + 1, 0];
    for (const known of [...spelt, ...right]) {
      if (known[0] !== word[0] || opposite(known)) continue;
      let away = slips(word, known, most);
      if (away > most) continue;
      if (single(word) === single(known)) away /= 2;
      const far = [away, -shared(known)];
      if (far[0] < least[0] || (far[0] === least[0] && far[1] < least[1])) [best, least] = [known, far];
    }
    return best || (word.endsWith("s") ? meantBy(raw.slice(0, -1)) : "");
  }

  // Lists of words that begin so; where an ending may differ, of the beginning without it.
  function begunBy(word, longest) {
    const found = new Set();
    for (const form of spelt) if (form.startsWith(word) && form.length <= longest) found.add(listOf.get(form));
    return [...found];
  }

  function inflected(word) {
    if (first.has(word)) return [];
    for (let end = word.length - 1; end >= Math.max(STEM, word.length - 3); end--) {
      const found = begunBy(word.slice(0, end), end + 4);
      if (found.length) return found;
    }
    return [];
  }

  function classes(word) {
    if (word.length < STEM || first.has(word)) return [];
    const fit = stems.filter(([stem]) => stem[0] === "-" ? word.endsWith(fold(stem.slice(1)))
      : word.startsWith(fold(stem.slice(0, -1))));
    const longest = Math.max(0, ...fit.map(([stem]) => stem.length));
    return fit.filter(([stem]) => stem.length === longest).flatMap(([, weak]) => weak);
  }

  // What a value outside its usual range is called: `na 118`.
  function outside(name, value) {
    const [least, most, below, above] = values.get(name) || [];
    if (!least || !isFigure(value || "")) return [];
    const said = Number(value) < least ? below : Number(value) > most ? above : "";
    return listOf.has(said) ? [listOf.get(said)] : names.has(said) ? names.get(said).same : [];
  }

  // The entry of an abbreviation of one or two pieces, if it is meant as one.
  function short(raw, at) {
    const shouted = raw.length > 1 && raw.every(word => word === word.toUpperCase());
    for (const size of [2, 1]) {
      const pieces = raw.slice(at, at + size);
      if (pieces.length < size) continue;
      if (size === 2 && !(/^(anti|[0-9]+|[A-Z]+)$/.test(pieces[0]) && /[A-Z0-9]/.test(pieces[1])
        && !(isFigure(pieces[0]) && isFigure(pieces[1])))) continue;
      const joined = pieces.join("");
      const look = text => { const word = fold(text.toLowerCase()); return names.get(first.get(word) || word); };
      let entry = look(joined);
      const unknown = () => !entry || !/[sw]/.test(entry.kind);
      if (unknown() && /^[a-z]{1,2}[A-Z]{3}/.test(joined)) entry = look(joined.replace(/^[a-z]+/, ""));
      if (unknown()) entry = look(oneOf(joined));
      if (unknown()) continue;
      const written = /[A-Z0-9]/.test(joined), upper = joined === joined.toUpperCase();
      if (!written || shouted) {
        if (entry.kind === "w" && (stop.has(joined.toLowerCase()) || raw.length > 3)) continue;
        if (raw.length >= SENTENCE && !written) continue;
      } else if (entry.kind === "w" && !upper) continue;
      return [size, entry];
    }
    return null;
  }

  // The longest name that begins here and fits, and how many words it has; stop words within it may
  // be others than those of the table.
  function longest(typed, at, fits) {
    for (let size = Math.min(NAME, typed.length - at); size > 0; size--) {
      if (stop.has(typed[at]) || stop.has(typed[at + size - 1])) continue;
      const piece = typed.slice(at, at + size).filter(word => !stop.has(word));
      const entry = names.get(piece.map(word => first.get(word) || word).join(" "));
      if (entry && fits(entry)) return [size, entry];
    }
    return null;
  }

  // What is asked for: of every word the lists that answer it, what is related, and what is missing.
  function asked(text) {
    const whole = parted(text), one = new Set(joinsOf(whole.map(folded)).flatMap(([places]) => places.map(at => whole[at])));
    const raw = whole.flatMap(word => one.has(word) ? [word] : withoutFigure(word)), searched = [];
    let typed = raw.map(folded);
    const joins = joinsOf(typed), joined = new Set(joins.flatMap(([places]) => places));
    typed = typed.map((word, at) => {
      const known = stop.has(word) || first.has(word) || joined.has(at) || isFigure(word) || short(raw, at)
        || (at === typed.length - 1 && begunBy(word, 99).length) || inflected(word).length || classes(word).length;
      const meant = known ? "" : meantBy(raw[at]);
      if (meant) searched.push([word, meant]);
      return meant || word;
    });
    const passed = typed.map(word => stop.has(word));
    const forms = typed.map((word, at) => !passed[at] && listOf.has(word) ? [listOf.get(word)] : []);
    const said = passed.filter(one => !one).length, apart = new Set(), missing = [], weaker = [];
    for (let at = 0; at < typed.length; at++) {
      const abbreviated = short(raw, at);
      const named = longest(typed, at, entry => entry.same.length && !entry.kind.match(/[sw]/));
      const [size, entry] = named && !(abbreviated && named[0] === 1) ? named : abbreviated || [1, null];
      if (entry) for (let place = at; place < at + size; place++) if (!passed[place] || size === 1) forms[place].push(...entry.same);
      if (entry && abbreviated && named && named[0] === 1) forms[at].push(...named[1].same);
      at += entry ? size - 1 : 0;
    }
    for (const [places, list] of joins) for (const place of places) forms[place].push(list);
    partWords(typed, forms);
    const last = typed.length - 1;
    if (last >= 0 && /[A-Za-z0-9]$/.test(text.trim()) && !listOf.has(typed[last]) && !passed[last]
      && typed[last].length >= (oneOf(raw[last]) === oneOf(raw[last]).toUpperCase() ? SHORTEST : 2))
      forms[last].push(...begunBy(typed[last], 99));
    typed.forEach((word, at) => { if (!forms[at].length && !passed[at] && !isFigure(word)) forms[at].push(...inflected(word)); });
    for (let at = 0; at < typed.length; at++) {
      const named = longest(typed, at, entry => entry.weak.length);
      const value = outside(typed[at], typed[at + 1]);
      const [size, weak] = value.length ? [2, value] : named ? [named[0], named[1].weak] : [1, passed[at] ? [] : classes(typed[at])];
      const spots = [...Array(size).keys()].map(step => at + step).filter(place => !passed[place]);
      const lost = spots.filter(place => !forms[place].length);
      if (weak.length && lost.length) lost.forEach(place => forms[place].push(...weak));
      else if (weak.length && spots.length && (spots.length > 1 ? said : typed.length) <= RELATED)
        weaker.push({weak, weight: (spots.length > 1 ? PHRASE_WEIGHT : RELATED_WEIGHT) * spots.length,
          own: spots.length > 1 ? [] : forms[spots[0]], alone: spots.length === said});
      if (weak.length) at += size - 1;
    }
    if (typed.length <= SENTENCE) for (let at = 0; at < typed.length; at++) {
      const named = longest(typed, at, entry => entry.kind === "a");
      if (!named) continue;
      for (let place = at; place < at + named[0]; place++) apart.add(place);
      missing.push(typed.slice(at, at + named[0]).join(" "));
      at += named[0] - 1;
    }
    typed.forEach((word, at) => {
      if (!forms[at].length && !passed[at] && !apart.has(at)) missing.push(word);
    });
    return {typed, forms, weaker, apart, joined, missing, searched};
  }

  // An abbreviation and the figure that a kind of it has: RTA4.
  function withoutFigure(word) {
    const pieces = word.match(/^([A-Z]+)([0-9]+)$/), known = text => names.has(first.get(text) || text);
    const kind = pieces && pieces[1].length >= KIND && !first.has(folded(word)) && !known(folded(word));
    return kind && known(folded(pieces[1])) ? pieces.slice(1) : [word];
  }

  // Where words are apart that the notes write as one, with its list.
  function joinsOf(typed) {
    const found = [];
    if (typed.length <= JOINED) for (let size = 2; size <= PIECES; size++)
      for (let at = 0; at + size <= typed.length; at++) {
        const pieces = typed.slice(at, at + size), letters = pieces.every(piece => /^[a-z]+$/.test(piece));
        if ((size > 2 && letters) || pieces.every(isFigure) || pieces.some(piece => stop.has(piece))) continue;
        const end = /^(alpha|beta|gamma|delta)$/.test(pieces[size - 1]) ? pieces[size - 1][0] : pieces[size - 1];
        const list = listOf.get(pieces.slice(0, -1).join("") + end);
        if (list !== undefined) found.push([pieces.map((_, step) => at + step), list]);
      }
    return found;
  }

  // What the notes write as words of their own and the query as one.
  function partWords(typed, forms) {
    typed.forEach((word, at) => {
      if (forms[at].length || !/[0-9]/.test(word) || !/[a-z]/.test(word)) return;
      const pieces = word.match(/[0-9]+|[a-z]+/g).map(piece => listOf.get(piece));
      if (pieces.every(list => list !== undefined)) forms[at].push(...pieces.slice(0, 1));
    });
  }

  const rarity = held => Math.log(1 + (count - held + 0.5) / (held + 0.5));

  // Notes of some lists with their weights, as if they were one word.
  function together(held) {
    const sum = new Map();
    for (const list of new Set(held)) for (const [note, times] of notesOf(list)) sum.set(note, (sum.get(note) || 0) + times);
    return sum;
  }

  // What any of some lists is worth in each note.
  function worth(held, weight) {
    const sum = together(held);
    const rare = weight * rarity(sum.size);
    for (const [note, times] of sum) sum.set(note, rare * times / (times + norms[note]));
    return sum;
  }

  function sorted(scores) {
    return [...scores.keys()].sort((one, other) => scores.get(other) - scores.get(one) || one - other);
  }

  function addRelated(scores, weaker) {
    for (const {weak, weight, own, alone} of weaker) {
      const typed = worth(own, 1), most = Math.min(Infinity, ...typed.values());
      for (const [note, value] of worth(weak, weight))
        scores.set(note, (scores.get(note) || 0) + (typed.has(note) ? value : Math.min(value, most)));
      if (!alone || !typed.size) continue;
      const least = Math.min(...[...typed.keys()].map(note => scores.get(note))) - LEAD;
      const lower = [...scores.keys()].filter(note => !typed.has(note));
      const top = Math.max(0, ...lower.map(note => scores.get(note)));
      if (top >= least) for (const note of lower) scores.set(note, scores.get(note) * Math.max(0, least) / top);
    }
  }

  function addExact(scores, forms) {
    const typed = forms.filter(held => held.length).map(held => held[0]).join(" ");
    data.exact.forEach((wholes, at) => wholes.forEach(([keys, ...notes]) => {
      if (typed && keys.join(" ") === typed) for (const note of notes)
        if (scores.has(note)) scores.set(note, scores.get(note) + [1000, 300][at]);
    }));
  }

  // For `X or Y` the note that compares them, if there is one, then the best on each.
  function comparing(raw, forms, scores) {
    const at = raw.findIndex(word => /^(vs|versus|or)$/i.test(word));
    const again = raw.filter(word => /^(vs|versus|or)$/i.test(word)).length;
    if (at < 1 || at === raw.length - 1 || again > 1 || raw.length > 10) return null;
    const sides = [forms.slice(0, at), forms.slice(at + 1)].map(side => {
      const found = new Map();
      for (const held of side) for (const [note, value] of worth(held, 1)) found.set(note, (found.get(note) || 0) + value);
      const best = Math.max(0, ...found.values());
      return new Map([...found].filter(([note]) => scores.has(note)).map(([note, value]) => [note, value / best]));
    });
    if (!sides.every(side => side.size)) return [];
    const both = new Map([...sides[0]].map(([note, value]) => [note, Math.min(value, sides[1].get(note) || 0)]));
    const together = sorted(both).slice(0, 1).filter(note => both.get(note) >= COMPARED);
    return [...new Set([...together, ...sides.flatMap(side => sorted(side).slice(0, 1))])];
  }

  // Numbers of notes, best first. Words in no note are named; where they carry the question, the
  // notes only share the rest.
  function find(text) {
    const {typed, forms, weaker, apart, joined, missing, searched} = asked(text);
    const weights = new Map();
    forms.forEach((held, at) => {
      if (!held.length) return;
      const key = [...new Set(held)].join(" ");
      weights.set(key, (weights.get(key) || 0) + (typed[at].length === 1 || isFigure(typed[at]) ? BARE : 1));
    });
    const most = Math.max(1, ...weights.values()), scores = new Map();
    for (const [key, weight] of weights) for (const [note, value] of worth(numbers(key), weight / most))
      scores.set(note, (scores.get(note) || 0) + value);
    addRelated(scores, weaker);
    addExact(scores, forms);
    const sides = comparing(parted(text), forms, scores);
    let order = sorted(scores);
    if (sides) order = [...sides, ...order.filter(note => !sides.includes(note))];
    const shown = new Set([...forms.flat(), ...weaker.flatMap(one => one.weak)]);
    const written = new Map();
    for (const [piece] of text.matchAll(/[\p{L}\p{N}\p{M}'\u2019]+/gu))
      for (const word of words(piece)) written.set(word, piece.replace(/['\u2019]s$/, ""));
    const asTyped = name => name.split(" ").map(word => written.get(word) || word).join(" ");
    const answered = sides && sides.length || isAnswered(typed, forms, apart, joined, missing, scores);
    return {order, missing: missing.map(asTyped), searched, answered: Boolean(answered), shown};
  }

  function isAnswered(typed, forms, apart, joined, missing, scores) {
    const says = (word, at) => !stop.has(word) && !apart.has(at) && (joined.has(at) || word.length > 1 && !isFigure(word));
    if (!missing.length || typed.filter(says).length > TOPIC) return true;
    const things = [...forms.keys()].filter(at => forms[at].length && says(typed[at], at));
    const held = new Map();
    let whole = missing.reduce((sum, word) => sum + (isFigure(word) ? 0 : common.has(word) ? EVERYDAY : 1), 0) * rarity(0);
    for (const at of things) {
      const notes = together(forms[at]), rare = (common.has(typed[at]) ? EVERYDAY : 1) * rarity(notes.size);
      whole += rare;
      for (const [note, times] of notes)
        if (scores.has(note)) held.set(note, (held.get(note) || 0) + rare * (times < TITLE ? PASSING : 1));
    }
    return Math.max(0, ...held.values()) >= ANSWERED * whole;
  }

  // Whether a word is in a list that was looked for.
  function fits(word, shown) {
    return listOf.has(word) && shown.has(listOf.get(word));
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
