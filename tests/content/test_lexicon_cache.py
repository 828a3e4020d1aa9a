"""Compiled languages that are kept: as good as new, and never trusted when they could be anything else."""

from __future__ import annotations

import json
import shutil
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from bot.content import lexicon as loading
from bot.content.lexicon import load_lexicons
from bot.content.source import content_root
from bot.core.errors import Invalid
from bot.core.reader import Lexicon, read
from bot.core.reader.packed import pack

REPLIES = ["8 wet and 3 poo", "she is very hot", "no fever", "sevn", "ابني سخن نار", "كل ثلاث ساعات", "nooo"]


@pytest.fixture
def messages(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Questions, signs and two languages, and a folder to keep compiled ones in."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    source, copy = content_root() / "messages", tmp_path / "messages"
    (copy / "lexicons").mkdir(parents=True)
    for name in ("questions.toml", "signs.toml", "lexicons/en.toml", "lexicons/ar.toml"):
        shutil.copy(source / name, copy / name)
    return copy


@pytest.fixture
def compiled(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Languages compiled since, in order."""
    done: list[str] = []
    compile_one = loading._compiled

    def counting(path: Path, *rest: object) -> Lexicon:
        done.append(path.stem)
        return compile_one(path, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(loading, "_compiled", counting)
    return done


def entries(messages: Path) -> list[Path]:
    return sorted((messages.parent / "cache" / "dunnock").iterdir())


def readings(lexicons: Mapping[str, Lexicon]) -> list[object]:
    return [read(text, ["feeds"], 3, lexicon) for lexicon in lexicons.values() for text in REPLIES]


def test_what_was_kept_reads_like_what_was_compiled(messages: Path, compiled: list[str]) -> None:
    new = load_lexicons(messages)
    kept = load_lexicons(messages)
    assert compiled == ["en", "ar"]
    assert readings(kept) == readings(new)
    packed = [
        [json.dumps(pack(lexicon), sort_keys=True) for lexicon in each.values()] for each in (new, kept)
    ]
    assert packed[0] == packed[1]


@pytest.mark.parametrize(
    "harm",
    [
        lambda whole: b"",
        lambda whole: whole[:-9],
        lambda whole: whole.replace(b'"language":"', b'"language":"x'),
        lambda whole: b"\x80\x04\x95 nothing that was kept",
    ],
)
def test_a_broken_entry_is_made_anew(messages: Path, compiled: list[str], harm) -> None:
    load_lexicons(messages)
    for path in entries(messages):
        path.write_bytes(harm(path.read_bytes()))
    again = load_lexicons(messages)
    assert compiled == ["en", "ar"] * 2
    assert again["ar"].language == "ar"
    load_lexicons(messages)
    assert len(compiled) == 4


def test_a_folder_others_may_write_to_is_not_used(messages: Path, compiled: list[str]) -> None:
    load_lexicons(messages)
    entries(messages)[0].parent.chmod(0o777)
    load_lexicons(messages)
    assert compiled == ["en", "ar"] * 2


def test_a_change_of_english_compiles_every_language_again(messages: Path, compiled: list[str]) -> None:
    load_lexicons(messages)
    english = messages / "lexicons" / "en.toml"
    english.write_text(english.read_text("utf-8") + "\n# A remark.\n", "utf-8")
    load_lexicons(messages)
    assert compiled == ["en", "ar"] * 2


def test_every_fault_of_every_file_is_named_each_time(messages: Path) -> None:
    load_lexicons(messages)
    for name, fault in (("en", "(hot"), ("ar", "<nobody>")):
        path = messages / "lexicons" / f"{name}.toml"
        path.write_text(path.read_text("utf-8").replace("say = [", f'say = ["{fault}", "?", ', 1), "utf-8")
    for anew in (False, False, True):
        with pytest.raises(Invalid) as caught:
            load_lexicons(messages, anew=anew)
        assert [p.field for p in caught.value.problems] == ["en.toml"] * 2 + ["ar.toml"] * 2


def test_two_starts_at_once_both_end_well(messages: Path) -> None:
    with ThreadPoolExecutor(4) as pool:
        loaded = list(pool.map(load_lexicons, [messages] * 4))
    assert all(readings(each) == readings(loaded[0]) for each in loaded)
    assert len(entries(messages)) == 2
