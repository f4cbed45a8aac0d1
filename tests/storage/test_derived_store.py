"""What is derived lies in a private folder outside the base, and heals whatever happens to it."""

from __future__ import annotations

import os
import pickle
import shutil
import sqlite3
import sys
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from kb.core.errors import ConflictError, DerivedError
from kb.storage import cache_folder as cache
from kb.storage import derived_store
from kb.storage.cache_folder import cache_folder
from kb.storage.derived_store import FILE, LOCK, SCHEMA, DerivedStore, about, put_about

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session

NOTE = "---\ntitle: {title}\narea: cardiology\nwritten: 2027-01-11\n---\nText of {title}.\n"
posix = pytest.mark.skipif(os.name != "posix", reason="other systems have no such owner or mode")


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty cache of its own."""
    monkeypatch.setenv("MISSBOOK_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"


class Bomb:
    """Runs code when it is unpickled."""

    def __init__(self, fuse: Path) -> None:
        self.fuse = fuse

    def __reduce__(self) -> tuple[Any, ...]:
        return (Path.touch, (self.fuse,))


def everything(start: Session) -> tuple[Any, ...]:
    """What three different derived tables and the index answer."""
    found = start.report("find", {"words": "text"})
    near = start.index.neighbours()
    start.index.close()
    return start.base.notes, found, near


def test_nothing_planted_in_a_base_is_unpickled(
    session: Callable[..., Session], tmp_path: Path, place: Path
) -> None:
    """A base is often synchronised: every file an index has, planted in every place an index had,
    as a pickle that would run code. It is not run.
    """
    start = session({"x.md": NOTE.format(title="X")})
    everything(start)
    names = [path.relative_to(place).parts[1:] for path in place.rglob("*") if path.is_file()]
    assert any(parts[-1].endswith(".toc") for parts in names)
    fuse = tmp_path / "fuse"
    bomb = pickle.dumps(Bomb(fuse))
    for folder in (".missbook", ".missbook/index", "."):
        for parts in (*names, ("index", "_notes_1.toc"), ("stamp.json",), ("catalogue.sqlite3",)):
            target = start.root.joinpath(folder, *parts)
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(bomb)
    start.reload()
    everything(start)
    assert not fuse.exists()
    pickle.loads(bomb)  # it was live
    assert fuse.exists()


def test_nothing_derived_lies_in_the_base(session: Callable[..., Session], place: Path) -> None:
    """Reading and searching leave it as it was."""
    start = session({"x.md": NOTE.format(title="X")})
    before = sorted(start.root.rglob("*"))
    everything(start)
    assert sorted(start.root.rglob("*")) == before
    assert list(place.rglob(FILE))


@posix
def test_the_folder_is_private(place: Path, tmp_path: Path) -> None:
    """Only its owner may read it, even if its mode was changed meanwhile."""
    folder = cache_folder(tmp_path)
    assert folder.parent == place
    folder.chmod(0o755)
    assert cache_folder(tmp_path) == folder
    assert [path.stat().st_mode & 0o777 for path in (folder, place)] == [0o700, 0o700]


def test_each_base_has_a_folder_of_its_own(place: Path, tmp_path: Path) -> None:
    """By its real path, however it is named."""
    (tmp_path / "one").mkdir()
    (tmp_path / "two").mkdir()
    assert cache_folder(tmp_path / "one") != cache_folder(tmp_path / "two")
    assert cache_folder(tmp_path / "two" / ".." / "one") == cache_folder(tmp_path / "one")


@posix
def test_a_folder_of_somebody_else_is_refused(
    place: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What they put there could run as us."""
    cache_folder(tmp_path)
    own = os.geteuid()
    monkeypatch.setattr(cache.os, "geteuid", lambda: own + 1)
    with pytest.raises(DerivedError, match="another user"):
        cache_folder(tmp_path)


@posix
@pytest.mark.parametrize("which", ["place", "folder"])
def test_a_link_in_its_place_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, which: str
) -> None:
    """Not followed, wherever it leads."""
    monkeypatch.delenv("MISSBOOK_CACHE")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "home"))
    if sys.platform == "darwin":
        pytest.skip("the cache lies elsewhere")
    folder = cache_folder(tmp_path)
    linked = folder if which == "folder" else folder.parent
    shutil.move(linked, tmp_path / "elsewhere")
    linked.symlink_to(tmp_path / "elsewhere", target_is_directory=True)
    with pytest.raises(DerivedError, match="not a folder"):
        cache_folder(tmp_path)


@posix
def test_a_temporary_folder_has_a_name_nobody_can_foresee(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where no cache can be made, each process has one of its own."""
    (tmp_path / "file").write_text("no folder")
    monkeypatch.setenv("MISSBOOK_CACHE", str(tmp_path / "file" / "cache"))
    one, other = cache_folder(tmp_path), cache_folder(tmp_path)
    assert one != other
    assert one.stat().st_mode & 0o777 == 0o700
    for folder in (one, other):
        folder.rmdir()


def cut(path: Path) -> None:
    """Leave half of a file."""
    raw = path.read_bytes()
    path.write_bytes(raw[: len(raw) // 2])


def change_schema(path: Path) -> None:
    """Make it one of an older version."""
    with sqlite3.connect(path) as db:
        db.execute(f"PRAGMA user_version = {SCHEMA - 1}")
    db.close()


def drop_tables(path: Path) -> None:
    """Make it a database of something else that happens to have our number."""
    with sqlite3.connect(path) as db:
        for (name,) in db.execute("SELECT name FROM sqlite_master").fetchall():
            if not name.startswith("sqlite_"):
                db.execute(f"DROP TABLE {name}")
        db.execute("CREATE TABLE other (x)")
    db.close()


DAMAGE: list[Callable[[Path], object]] = [
    Path.unlink,
    cut,
    change_schema,
    drop_tables,
    lambda path: path.write_bytes(b"not a database at all" * 400),
    lambda path: path.write_bytes(b""),
    lambda path: shutil.rmtree(path.parent),
]


@pytest.mark.parametrize("damage", DAMAGE)
@pytest.mark.parametrize("warm", [False, True])
def test_any_damage_gives_the_same_answers(
    session: Callable[..., Session], place: Path, damage: Callable[[Path], object], warm: bool
) -> None:
    """Missing, cut short, foreign or older; in an open session as in a new one."""
    start = session({f"cardiology/{n}.md": NOTE.format(title=n) for n in "abc"})
    before = everything(start)
    (path,) = place.rglob(FILE)
    damage(path)
    start = start if warm else type(start)(start.root, now=start.now, device="test")
    start.reload()
    assert everything(start) == before
    start.reload()
    assert everything(start) == before


@pytest.mark.parametrize("damage", DAMAGE)
def test_damage_between_two_looks_of_one_session_goes_unnoticed(
    session: Callable[..., Session], place: Path, damage: Callable[[Path], object]
) -> None:
    """As when the page runs while something clears the cache."""
    start = session({f"cardiology/{n}.md": NOTE.format(title=n) for n in "abc"})
    expected = [note.path for note in start.base.notes]
    start.reload()
    _ = start.files
    (path,) = place.rglob(FILE)
    damage(path)
    assert [note.path for note in start.base.notes] == expected
    damage(next(place.rglob(FILE)))
    assert "3 notes" in start.report("find", {"words": "text"}).right
    start.index.close()


def test_what_was_put_before_a_new_making_is_gone(tmp_path: Path) -> None:
    """`birth` distinguishes a file from its successor."""
    store = DerivedStore(tmp_path)
    store.write(lambda db: put_about(db, "key", "value"))
    birth = store.birth
    assert store.run(lambda db: about(db, "key")) == "value"
    assert store.birth == birth
    (tmp_path / FILE).unlink()
    assert store.run(lambda db: about(db, "key")) == ""
    assert store.birth != birth


def test_a_failed_transaction_keeps_nothing(tmp_path: Path) -> None:
    """All of it or none."""
    store = DerivedStore(tmp_path)

    def fail(db: sqlite3.Connection) -> None:
        put_about(db, "key", "value")
        raise ValueError("no")

    with pytest.raises(ValueError, match="no"):
        store.write(fail)
    assert store.run(lambda db: about(db, "key")) == ""


def test_a_full_disk_still_lets_the_base_be_read(
    session: Callable[..., Session], monkeypatch: pytest.MonkeyPatch, place: Path
) -> None:
    """If the cache takes nothing more, a temporary folder is used."""
    real = DerivedStore._run_once

    def refuse(self: DerivedStore, work: Callable[..., Any]) -> Any:
        if self.folder.is_relative_to(place):
            raise sqlite3.OperationalError("database or disk is full")
        return real(self, work)

    monkeypatch.setattr(DerivedStore, "_run_once", refuse)
    start = session({"x.md": "One.\n"})
    assert [note.id for note in start.base.notes] == ["x"]
    assert not start.catalogue.store.folder.is_relative_to(place)


def test_no_room_anywhere_is_said_in_one_line(
    session: Callable[..., Session], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is an error of ours with a hint, not one of the database."""

    def refuse(*_: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(derived_store.DerivedStore, "_run_once", refuse)
    with pytest.raises(DerivedError, match="full"):
        _ = session({"x.md": "One.\n"}).base


@posix
@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write")
def test_a_read_only_base_is_read_and_searched(session: Callable[..., Session]) -> None:
    """Nothing has to be written into it."""
    start = session({"x.md": NOTE.format(title="X")})
    start.root.chmod(0o500)
    try:
        assert "1 note" in start.report("find", {"words": "text"}).right
    finally:
        start.root.chmod(0o700)
        start.index.close()


def test_who_builds_at_the_same_time_is_told_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The lock of the first stays, and the second may build once it is released."""
    monkeypatch.setattr(derived_store, "BUSY_SECONDS", 0.0)
    one, two = DerivedStore(tmp_path), DerivedStore(tmp_path)
    with (
        one.building(),
        pytest.raises(ConflictError, match="another missbook is updating"),
        two.building(),
    ):
        pass
    with two.building():
        pass
    assert (tmp_path / LOCK).exists()


def test_a_damaged_lock_is_removed_and_holds_nobody_up(tmp_path: Path) -> None:
    """It is no database, so nobody holds it."""
    (tmp_path / LOCK).write_bytes(b"damaged" * 1000)
    with DerivedStore(tmp_path).building():
        assert not (tmp_path / LOCK).exists()


def test_the_store_makes_its_folder_again(tmp_path: Path) -> None:
    """Also where the folder above it was deleted while it was in use."""
    store = DerivedStore(tmp_path / "cache" / "base")
    assert store.run(lambda db: about(db, "key")) == ""
    shutil.rmtree(tmp_path / "cache")
    assert store.run(lambda db: about(db, "key")) == ""
    assert store.folder == tmp_path / "cache" / "base"
    if sys.platform != "win32":
        assert store.folder.stat().st_mode & 0o777 == 0o700


def test_a_file_of_another_version_is_emptied_and_made_again(tmp_path: Path) -> None:
    """Its tables go, whatever they are called and hold."""
    with closing(sqlite3.connect(tmp_path / FILE)) as db:
        db.execute('CREATE TABLE report ("of another" TEXT)')
        db.execute('CREATE TABLE "an ""old"" one" (x TEXT)')
        db.execute(f"PRAGMA user_version = {SCHEMA + 1}")
    store = DerivedStore(tmp_path)
    assert store.run(lambda db: about(db, "key")) == ""
    sql = "SELECT name FROM sqlite_master WHERE type = 'table'"
    names = {name for (name,) in store.run(lambda db: db.execute(sql).fetchall())}
    assert "report" in names
    assert 'an "old" one' not in names
    assert store.run(lambda db: db.execute("SELECT question FROM report").fetchall()) == []


def test_a_damaged_file_is_made_again_in_its_place(tmp_path: Path) -> None:
    """Not in a temporary folder, where it would be made again by every command."""
    (tmp_path / FILE).write_bytes(b"no database" * 500)
    store = DerivedStore(tmp_path)
    assert store.run(lambda db: about(db, "key")) == ""
    assert store.folder == tmp_path
    assert DerivedStore(tmp_path).run(lambda db: about(db, "birth")) == store.birth
