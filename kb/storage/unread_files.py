"""Files that look like part of a base but are not read: each is reported.

A synchroniser or a file manager may leave the only copy of a log under such a name.
"""

import re
from collections.abc import Sequence
from pathlib import Path
from unicodedata import normalize

from kb.core.errors import KBError, Place, Problem
from kb.storage.atomic_files import LEFT_OVER
from kb.storage.scan import LARGEST_NOTE, UNREADABLE, FileStat, is_followed, is_note

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
TABLE = re.compile(r"\.(?:[ct]sv|tab|xls[xm]?|ods)(?![a-z])", re.I)
SETTINGS = ("exam.yaml", "study.yaml", "glossary.yaml")
_MARK = "(?:copy|old|new|bak|backup|final)?"
SETTINGS_COPY = re.compile(
    r"(?=.*[\W_]ya?ml|[^.]*\.(?:bak|ori?g|old|tmp|saved?)$)"
    rf".*?(?<![^\W\d_]){_MARK}(exam|study|glossary){_MARK}(?![^\W\d_]).*"
)
"""The name of such a copy, folded; the word alone may be in the name of any note or table."""
LINK_HINT = "put the real folder or file in its place"


def unread_files(root: Path, found: Sequence[FileStat]) -> list[Problem]:
    """A Problem for every log file and every copy of a setting that is not read."""
    problems = [*_links(root), *_hidden(root)]
    read = {(root / entry.path).resolve() for entry in found if READ.fullmatch(entry.path)}
    for entry in found:
        path = entry.path
        logged = path[:4].casefold() == f"{LOG}/"
        if UNREADABLE in path or READ.fullmatch(path) or OWN.fullmatch(path):
            continue
        if is_note(path):
            if entry.size >= LARGEST_NOTE:
                message = f"{entry.size // 1_000_000} MB: too large for a note, so it is not read"
                hint = "divide it, or move it out of the base"
                problems.append(_problem(path, "large-note", message, hint))
        elif own := _setting_copied(root, path):
            there = (root / own).exists()
            hint = f"copy what it should say into {own}, then delete or move it"
            hint = hint if there else f"make it {own} in the base's own folder"
            message = f"this copy of {own} is not read"
            problems.append(_problem(path, "settings-copy", message, hint))
        elif logged or ".csv" in path.casefold():
            kind = _kind(root / path)
            linked = kind and not logged and (root / path).resolve() in read
            if not linked and (kind or (logged and TABLE.search(path))):
                problems.append(_unread_log(path, kind))
    return problems


def _setting_copied(root: Path, path: str) -> str:
    """The setting of which a file is a copy by its name; empty if of none."""
    folder, _, name = path.rpartition("/")
    plain = "".join(c for c in normalize("NFKC", name) if c.isprintable()).casefold()
    copy = SETTINGS_COPY.fullmatch(plain)
    if path in SETTINGS or not copy:
        return ""
    own = f"{copy[1]}.yaml"
    # A disk that does not tell capitals apart finds Exam.yaml as exam.yaml.
    same = not folder and plain == own and (root / own).exists()
    return "" if same and (root / own).samefile(root / path) else own


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
    shown = (path for path in folder.glob("*") if TABLE.search(path.name) or path.is_dir())
    paths = [folder / only] if only else sorted(shown)
    return [
        _problem(f"{LOG}/{path.name}", "link", f"{message}: no line in it counts", LINK_HINT)
        for path in paths
        if path.is_symlink() and not is_followed(str(folder), f"{LOG}/", path.name)
    ]


def _hidden(root: Path) -> list[Problem]:
    """A Problem for every hidden log or setting, as of a file not fetched or not written whole."""
    hidden = [path for folder in (LOG, ".") for path in sorted((root / folder).glob(".*"))]
    problems = []
    for path in hidden:
        name = path.relative_to(root).as_posix()
        if LEFT_OVER.fullmatch(path.name):
            continue
        if name.startswith(LOG) and ".csv" in name.casefold():
            message = "a hidden file: no line in it counts"
            hint = "let your synchroniser finish; a log that is whole, rename without the first dot"
            problems.append(_problem(name, "hidden-log", message, hint))
        elif own := _setting_copied(root, name):
            message = f"this copy of {own} is not read"
            hint = (
                "close it where it is open, or let your synchroniser finish; if it stays, delete it"
            )
            problems.append(_problem(name, "settings-copy", message, hint))
    return problems


def _unread_log(path: str, kind: str) -> Problem:
    if not kind:
        hint = (
            "it is not a log of missbook; move it out of log/, or log it with: missbook log table"
        )
        return _problem(path, "unread-log", "this file is not read", hint)
    shared = {LOG, "copy", "of", "csv", *kind.split("-")}
    words = [word for word in re.findall(r"[a-z0-9]+", path.casefold()) if word not in shared]
    own = "-".join([kind, *words])
    hint = f"move it to {LOG}/{own}-copy.csv: lines that the log has already count once"
    return _problem(path, "unread-log", "this log is not read: no line in it counts", hint)


def _kind(path: Path) -> str:
    """The kind of log that a file's first line is the header of; empty if of none."""
    try:
        with path.open("rb") as stream:
            first = stream.readline(400)
    except OSError:
        return ""
    text = first.replace(b"\0", b"").decode("utf-8", "replace").casefold()
    names = {name.strip(" \"'\r\n\ufeff\ufffd") for name in re.split(r"[,;\t]", text)}
    kinds = (kind for kind, columns in KINDS.items() if columns <= names)
    return next(kinds, "")


def _problem(path: str, code: str, message: str, hint: str) -> Problem:
    return Problem(place=Place(path), code=code, message=message, hint=hint)
