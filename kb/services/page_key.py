"""The key to the page of a base: a secret of this account, in its private cache folder.

It is kept from one start to the next, so that an open page and a bookmark stay good.
"""

import re
import secrets
from html import escape
from pathlib import Path

from kb.storage.atomic_files import replace_file
from kb.storage.cache_folder import cache_folder

NAME = "page-key"
OPENING = "open-page.html"
KEY = re.compile(r"[\w-]{43}", re.A)


def page_key(root: Path) -> str:
    """The key to the page of the base at `root`: 256 random bits, made if there is none."""
    path = cache_folder(root) / NAME
    try:
        kept = path.read_bytes().decode("ascii", "replace")
    except OSError:
        kept = ""
    if not KEY.fullmatch(kept):
        kept = secrets.token_urlsafe(32)
        replace_file(path, kept.encode(), shown=str(path))
    return kept


def opening_file(root: Path, address: str) -> Path:
    """A private file that leads a browser to `address`: other accounts can read the command line
    with which a browser is started.
    """
    path = cache_folder(root) / OPENING
    target = escape(address)
    html = (
        '<!doctype html><meta charset="utf-8">'
        f'<meta http-equiv="refresh" content="0; url={target}"><title>missbook</title>'
        f'<a href="{target}">Open missbook</a>\n'
    )
    replace_file(path, html.encode(), shown=str(path))
    return path
