"""Files that look like part of a base but are not read: each is reported.

A synchroniser or a file manager may leave the only copy of a log under such a name.
"""

import re
from collections.abc import Iterable
from pathlib import Path

from kb.core.errors import KBError, Place, Problem
from kb.storage.atomic_files import LEFT_OVER
from kb.storage.scan import LARGEST_NOTE, FileStat, is_followed, is_note

LOG = "log"
KINDS = {
    "attempts": {"id", "at", "question"},
    "readings": {"id", "at", "note"},
    "chance-order": {"at", "note", "miss"},
    "draws": {"at", "draw", "position"},
    "scores": {"id", "at", "sitting"},
    "renames": {"at", "old", "new"},
    "sheets": {"at", "name", "digest"},
    "held-back": {"at", "draw", "position"},
    "calendar": {"at", "uid", "slot"},
}
"""How the names of log files begin, and columns by which each kind is recognised."""
READ = re.compile(rf"log/(?:{'|'.join(KINDS)})[^/\ufffd]*\.csv", re.I)
OWN = re.compile(r"log/(?:set-aside-[^/]*|.*-not-understood(?:-\d+)?\.\w+)", re.I)
SETTINGS = ("exam.yaml", "study.yaml", "glossary.yaml")
SETTINGS_COPY = re.compile(
    r"(?=[^/]*\.(?:ya?ml\b|bak$|orig$|old$|tmp$))[^/]*?(?<![a-z])(exam|study|glossary)(?![a-z])[^/]*",
    re.I,
)
LINK_HINT = "put the real folder or file in its place"


def unread_files(root: Path, found: Iterable[FileStat]) -> list[Problem]:
    """A Problem for every log file and every copy of a setting that is not read."""
    problems = [*_links(root), *_hidden(root)]
    for entry in found:
        path = entry.path
        if path.startswith(f"{LOG}/"):
            kind = _kind(root / path)
            csv = ".csv" in path.casefold()
            if (kind or csv) and not READ.fullmatch(path) and not OWN.fullmatch(path):
                problems.append(_unread_log(path, kind))
        elif is_note(path) and entry.size >= LARGEST_NOTE:
            message = f"{entry.size // 1_000_000} MB: too large for a note, so it is not read"
            hint = "divide it, or move it out of the base"
            problems.append(_problem(path, "large-note", message, hint))
        elif "/" not in path and path not in SETTINGS and (copy := SETTINGS_COPY.fullmatch(path)):
            own = f"{copy[1].casefold()}.yaml"
            hint = f"copy what it should say into {own}, then delete or move it"
            message = f"this copy of {own} is not read"
            problems.append(_problem(path, "settings-copy", message, hint))
    return problems


def check_read_back(root: Path, name: str) -> None:
    """Refuse to write to a log file that is not read.

    Raises:
        KBError: It, or the log folder, is a link out of the base.
    """
    for problem in _links(root, name):
        message = f"{problem.message}; nothing was added"
        raise KBError(message, place=problem.place, hint=problem.hint)


def _links(root: Path, only: str = "") -> list[Problem]:
    """Problems with links that are in place of the log or one of its files and are not followed."""
    folder = root / LOG
    message = "a link that leads out of the base is not followed"
    if folder.is_symlink() and not is_followed(str(root), "", LOG):
        return [_problem(LOG, "link", f"{message}: no answer in it counts", LINK_HINT)]
    paths = [folder / only] if only else sorted(folder.glob("*.csv"))
    return [
        _problem(f"{LOG}/{path.name}", "link", f"{message}: no line in it counts", LINK_HINT)
        for path in paths
        if path.is_symlink() and not is_followed(str(folder), f"{LOG}/", path.name)
    ]


def _hidden(root: Path) -> list[Problem]:
    """A Problem for every hidden log, as of a file not fetched or not written whole."""
    message = "a hidden file: no line in it counts"
    hint = "let your synchroniser finish; a log that is whole, rename without the first dot"
    return [
        _problem(f"{LOG}/{path.name}", "hidden-log", message, hint)
        for path in sorted((root / LOG).glob(".*"))
        if ".csv" in path.name.casefold() and not LEFT_OVER.fullmatch(path.name)
    ]


def _unread_log(path: str, kind: str) -> Problem:
    name = path.rpartition("/")[2]
    if not kind:
        hint = (
            "it is not a log of missbook; move it out of log/, or log it with: missbook log table"
        )
        return _problem(path, "unread-log", "this file is not read", hint)
    stem = re.sub(rf"\W*\b(?:copy|of|{kind})\b\W*|\.csv\b", "-", name, flags=re.I)
    plain = "-".join(re.findall(r"[a-z0-9]+", stem.casefold()))
    hint = f"rename it to {LOG}/{kind}-{plain}-copy.csv: lines that the log has already count once"
    return _problem(path, "unread-log", "this log is not read: no line in it counts", hint)


def _kind(path: Path) -> str:
    """The kind of log that a file's first line is the header of; empty if of none."""
    try:
        with path.open("rb") as stream:
            first = stream.readline(400)
    except OSError:
        return ""
    names = first.decode("utf-8", "replace").removeprefix("\ufeff").strip().casefold().split(",")
    kinds = (kind for kind, columns in KINDS.items() if columns <= {*names})
    return next(kinds, "")


def _problem(path: str, code: str, message: str, hint: str) -> Problem:
    return Problem(place=Place(path), code=code, message=message, hint=hint)
