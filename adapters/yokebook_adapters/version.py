"""The version of the installed package."""

from __future__ import annotations

import importlib.metadata


def version() -> str:
    """The installed package's version; `not installed` when run from a checkout that is not."""
    try:
        return importlib.metadata.version("yokebook")
    except importlib.metadata.PackageNotFoundError:
        return "not installed"
