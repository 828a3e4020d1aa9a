"""Compiled languages kept in a folder of this user, so that a start need not compile them again.

An entry is named by a hash of all it was made from: the language's file and the English one, questions and
signs, the reader's code, the versions of Python and regex. What is broken, or could be somebody else's, is
ignored and made anew; where nothing can be kept, nothing is. An entry is JSON: reading it runs nothing.
"""

from __future__ import annotations

import hashlib
import json
import os
import stat
import sys
import tempfile
from array import array
from collections.abc import Iterable, Mapping
from contextlib import suppress
from functools import cache
from pathlib import Path

import regex

import bot.core.reader
from bot.core.reader import Lexicon, Question
from bot.core.reader.packed import pack, unpack

_MOST_OF_A_LANGUAGE = 4  # older entries are thrown away: those of other versions and of a file being edited


def key_of(parts: Iterable[bytes]) -> str:
    """Name an entry by what it is made from."""
    digest = hashlib.sha256(_machine())
    for part in parts:
        digest.update(hashlib.sha256(part).digest())
    return digest.hexdigest()


def recall(
    language: str, key: str, questions: Mapping[str, Question], fallback: Lexicon | None
) -> Lexicon | None:
    """Give a language as it was kept; None where there is none, or none to be trusted."""
    folder = folder_of_user()
    if folder is None:
        return None
    try:
        digest, _, body = _path(folder, language, key).read_bytes().partition(b"\n")
        if hashlib.sha256(body).hexdigest().encode() != digest:
            return None
        return unpack(json.loads(body), questions, fallback)
    except (OSError, ValueError, LookupError, TypeError, AttributeError):
        return None


def keep(language: str, key: str, lexicon: Lexicon) -> None:
    """Keep a language. Written aside and renamed: another process sees a whole entry or none."""
    folder = folder_of_user()
    if folder is None:
        return
    body = json.dumps(pack(lexicon), ensure_ascii=False, separators=(",", ":")).encode()
    with suppress(OSError):
        handle, aside = tempfile.mkstemp(dir=folder, prefix=f"{language}-", suffix=".new")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(hashlib.sha256(body).hexdigest().encode() + b"\n" + body)
            Path(aside).replace(_path(folder, language, key))
        except OSError:
            Path(aside).unlink(missing_ok=True)
        _tidy(folder, language)


def _path(folder: Path, language: str, key: str) -> Path:
    return folder / f"{language}-{key[:40]}.json"


def _tidy(folder: Path, language: str) -> None:
    entries = sorted(folder.glob(f"{language}-*.json"), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in entries[_MOST_OF_A_LANGUAGE:]:
        path.unlink(missing_ok=True)


def folder_of_user() -> Path | None:
    """This user's folder, made when missing; None where it cannot be made, or others could write to it."""
    home = os.environ.get("XDG_CACHE_HOME", "")
    user = os.getuid() if hasattr(os, "getuid") else None
    folder = Path(home) / "dunnock" if os.path.isabs(home) else Path(tempfile.gettempdir(), f"dunnock-{user}")
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        found = folder.lstat()
    except OSError:
        return None
    ours = user is None or (found.st_uid == user and not found.st_mode & 0o077)
    return folder if stat.S_ISDIR(found.st_mode) and ours else None


@cache
def _machine() -> bytes:
    """All but the files that decides what a compiled language looks like."""
    here = Path(__file__).parent
    sources = [
        *sorted(Path(bot.core.reader.__file__).parent.rglob("*.py")),
        here / "lexicon.py",
        here / "local_words.py",
    ]
    versions = f"{sys.version} {sys.byteorder} {array('I').itemsize} {regex.__version__}"
    return versions.encode() + b"".join(hashlib.sha256(path.read_bytes()).digest() for path in sources)
