"""Where derived files of a base are kept: in a private folder in the user's cache.

They are never in the base, which is often synchronised: files that another computer puts there must
not be trusted. Some derived files hold pickles, and reading a pickle can run code.
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
    """The private folder for derived files of the base at `root`, made if need be.

    Where there can be no cache, as in a read-only home, it is a temporary folder that is removed
    with this process.

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
    """A new private folder with an unpredictable name, removed when the process ends."""
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
    """The folder, made if need be, after checking that only its owner can write to it."""
    folder.mkdir(mode=0o700, exist_ok=True)
    found = folder.lstat()
    ours = os.name != "posix" or found.st_uid == os.geteuid()
    if not stat.S_ISDIR(found.st_mode) or not ours:
        what = "belongs to another user" if stat.S_ISDIR(found.st_mode) else "is not a folder"
        hint = f"remove it, or name another place with {VARIABLE}"
        raise DerivedError(f"the cache {what}", place=Place(str(folder)), hint=hint)
    folder.chmod(0o700)
    return folder
