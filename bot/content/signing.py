"""What somebody signs when a language's words are approved: a hash over its words and texts."""

from __future__ import annotations

from functools import cache
from hashlib import sha256
from pathlib import Path

from bot.content.source import content_root


@cache
def language_digest(code: str, root: Path | None = None) -> str:
    """Give the SHA-256 over a language's lexicon and its texts, with the English they were made from; any
    change of them makes a signature stale."""
    root = root or content_root()
    files = [root / "messages" / "lexicons" / f"{code}.toml"]
    files += sorted((root / "messages" / "texts").glob("*.toml"))
    files += [root / "locales" / code / "LC_MESSAGES" / "texts.po"]
    found = sha256()
    for file in files:
        if file.exists():
            found.update(file.name.encode() + b"\0" + file.read_bytes() + b"\0")
    return found.hexdigest()
