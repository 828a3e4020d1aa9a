"""Where the content lives: the folder that holds messages/ and locales/ comes out.

A checkout keeps both at its top level, where the people who edit them look; an installed program carries
them inside its package (deploy/packing.py puts them there).
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from bot.core.errors import NotFound

_PACKAGE = Path(__file__).resolve().parent.parent


@cache
def content_root() -> Path:
    """Give the folder with messages/ and locales/.

    NotFound  neither the checkout nor the package holds them: the installation is incomplete
    """
    checkout, packed = _PACKAGE.parent, _PACKAGE / "_factory"
    if (checkout / "pyproject.toml").is_file() and (checkout / "messages").is_dir():
        return checkout
    if (packed / "messages").is_dir():
        return packed
    raise NotFound(
        f"The texts and rules are missing: looked for messages/ in {checkout} and in {packed}. "
        "Install the program again."
    )
