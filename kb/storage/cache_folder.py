"""Where derived files of a base lie: a private folder of its own in the user's cache.

Never in the base, which is often a synchronised folder: what another computer puts there must not
be taken for ours. Some derived files hold pickles, and reading those runs code.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path

from kb.core.errors import DerivedError, Place
from kb.core.ids import digest

VARIABLE = "MISSBOOK_CACHE"
"""Environment variable that names another place for the cache."""


def cache_folder(root: Path) -> Path:
    """The folder for derived files of the base at `root`, made if need be; ours alone.

    Where no cache can be kept, as in a read-only home, it is a temporary one that goes with this
    process.

    Raises:
        DerivedError: The folder belongs to somebody else, or is a link.
    """
    name = digest(os.fsencode(root.resolve()).hex())
    try:
        place = _place()
        place.parent.mkdir(parents=True, exist_ok=True)
        return _private(_private(place) / name)
    except OSError:
        return temporary_folder()


def temporary_folder() -> Path:
    """A new private folder under a name nobody can foresee; it is removed when the process ends."""
    import atexit
    import shutil
    import tempfile

    folder = Path(tempfile.mkdtemp(prefix="missbook-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def _place() -> Path:
    named = os.environ.get(VARIABLE)
    if named:
        return Path(named).expanduser().resolve()
    from platformdirs import user_cache_path

    return user_cache_path("missbook", appauthor=False)


def _private(folder: Path) -> Path:
    """The folder itself, made if need be, once it is sure that only its owner can write to it."""
    folder.mkdir(mode=0o700, exist_ok=True)
    found = folder.lstat()
    ours = os.name != "posix" or found.st_uid == os.geteuid()
    if not stat.S_ISDIR(found.st_mode) or not ours:
        what = "belongs to another user" if stat.S_ISDIR(found.st_mode) else "is not a folder"
        hint = f"remove it, or name another place with {VARIABLE}"
        raise DerivedError(f"the cache {what}", place=Place(str(folder)), hint=hint)
    if os.name == "posix" and found.st_mode & 0o077:
        folder.chmod(0o700)
    return folder
