"""Two notes as text -> one; and links changed to another file.

Only the values and links concerned change; all other text stays as its owner wrote it.
"""

import posixpath
import re
from urllib.parse import quote, urlsplit

from kb.core.errors import KBError, Place
from kb.core.model import Note
from kb.formats import frontmatter
from kb.formats.markdown import resolve
from kb.formats.note import parse_note
from kb.language.normalise import keys

CODE = r"(?P<fence>^ {0,3}(?P<mark>```+|~~~+).*?(?:^ {0,3}(?P=mark)[`~]*[ \t]*$|\Z))"
SPAN = r"(?P<span>(?P<ticks>`+)(?!`).*?(?<!`)(?P=ticks)(?!`))"
LABEL = r"(?:[^\[\]\\]|\\.|\[[^\[\]]*\])*"
TARGET = r"<[^<>\n]*>|[^\s<>()]*(?:\([^\s()]*\)[^\s<>()]*)*"
INLINE = (
    rf"(?P<image>!?)\[(?P<label>{LABEL})\]\(\s*(?P<target>{TARGET})"
    r"(?P<title>(?:\s+(?:\"[^\"]*\"|'[^']*'))?\s*)\)"
)
REFERENCE = rf"(?P<head>^ {{0,3}}\[[^\[\]]+\]:[ \t]*)(?P<far>{TARGET})"
LINKS = re.compile("|".join((CODE, SPAN, INLINE, REFERENCE)), re.M | re.S)
"""Code comes first, so that what looks like a link inside it stays code."""


def move_links(body: str, path: str, new_path: str, old: str, new: str) -> str:
    """A body moved from `path` to `new_path`, where its relative links start, with its links to the
    note `old`, which will be gone, changed to `new`. A link to the body's own file becomes text.
    """

    def change(match: re.Match[str]) -> str:
        raw = match["target"] if match["target"] is not None else match["far"]
        if not raw:
            return match[0]
        pointed = raw.strip("<>")
        reached = resolve(pointed, path)
        if not reached:
            return match[0]
        wanted = new if reached == old else reached
        if wanted == new_path and match["label"] is not None and not match["image"]:
            return match["label"]
        if wanted == reached and posixpath.dirname(path) == posixpath.dirname(new_path):
            return match[0]
        relative = posixpath.relpath(wanted, posixpath.dirname(new_path) or ".")
        fragment = urlsplit(pointed).fragment
        target = quote(relative) + (f"#{fragment}" if fragment else "")
        if match["far"] is not None:
            return match["head"] + target
        return f"{match['image']}[{match['label']}]({target}{match['title']})"

    return LINKS.sub(change, body)


def repoint(text: str, path: str, old: str, new: str) -> str:
    """A whole note, its links to `old` changed to `new`; its front matter is not touched."""
    body = frontmatter.split(text, path)[0].body
    head = text[: len(text) - len(body)]
    return head + move_links(body, path, path, old, new)


def merge_texts(
    keep_text: str, keep_path: str, other_text: str, other_path: str, written: str
) -> str:
    """The text of one note that holds all that two notes hold, stamped with the moment `written`.

    Questions, concepts and areas are joined, a different basis is added to the first, and the
    other's body follows under its title, with its links adjusted. A body that the first has already
    is not added.

    Raises:
        KBError: The front matter of the first cannot take what the second holds.
    """
    keep, _, _ = parse_note(keep_text, keep_path)
    other, other_body, _ = parse_note(other_text, other_path)
    text = _with_front(repoint(keep_text, keep_path, other_path, keep_path), keep, other)
    text = frontmatter.set_value(text, keep_path, "written", written)
    text = _with_body(text, keep, other, other_body)
    merged, _, _ = parse_note(text, keep_path)
    missing = [question for question in other.questions if question not in merged.questions]
    missing += [question for question in keep.questions if question not in merged.questions]
    if missing:
        hint = "nothing was written; correct its front matter first: missbook check"
        raise KBError(f"cannot take {missing[0]}", hint, Place(keep_path, 1))
    return text


def _with_front(text: str, keep: Note, other: Note) -> str:
    path = keep.path
    fields = frontmatter.parse(text, path)[0]
    for question in other.questions:
        if question not in keep.questions:
            text = frontmatter.add_to_list(text, path, "questions", question)
    known = {keys(concept) for concept in keep.concepts}
    for concept in other.concepts:
        if keys(concept) not in known or not keys(concept):
            text = frontmatter.add_to_list(text, path, "concepts", concept)
            known.add(keys(concept))
    key = "area" if fields is not None and "area" in fields and "areas" not in fields else "areas"
    for area in other.areas:
        if area not in keep.areas:
            text = frontmatter.add_to_list(text, path, key, area)
    if other.basis and other.basis not in keep.basis:
        basis = f"{keep.basis}; {other.basis}" if keep.basis else other.basis
        text = frontmatter.set_value(text, path, "basis", basis)
    return text


def _with_body(text: str, keep: Note, other: Note, other_body: str) -> str:
    moved = move_links(other_body, other.path, keep.path, other.path, keep.path).strip()
    body = frontmatter.split(text, keep.path)[0].body
    if not moved or _flat(moved) in _flat(body):
        return text
    newline = "\r\n" if "\r\n" in text else "\n"
    titled = moved.startswith("#") or other.title == keep.title
    added = moved if titled else f"## {other.title}\n\n{moved}"
    added = added.replace("\r\n", "\n").replace("\n", newline)
    return text.rstrip() + newline * 2 + added + newline


def _flat(text: str) -> str:
    return " ".join(text.split())
