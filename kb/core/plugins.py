"""Find the modules of a package by name, so that adding one means adding a file."""

from __future__ import annotations

import importlib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from types import ModuleType


@cache
def module_names(package: str, *, prefix: str = "") -> tuple[str, ...]:
    """Names of the modules in `package`, sorted, without `prefix` and without importing them."""
    folders = map(Path, importlib.import_module(package).__path__)
    names = (path.stem for folder in folders for path in folder.glob(f"{prefix}*.py"))
    return tuple(sorted(name[len(prefix) :] for name in names if not name.startswith("_")))


def load(package: str, name: str, promised: tuple[str, ...]) -> ModuleType:
    """Import `package.name` and check that it has what every module of its kind must have.

    Raises:
        ImportError: The module cannot be imported; never hidden.
        TypeError: It lacks one of the `promised` attributes.
    """
    module = importlib.import_module(f"{package}.{name}")
    missing = [attribute for attribute in promised if not hasattr(module, attribute)]
    if missing:
        raise TypeError(f"{package}.{name} lacks {', '.join(missing)}")
    return module


def has(module: object, attribute: str) -> bool:
    """Whether a module has what only some of its kind have."""
    return hasattr(module, attribute)
