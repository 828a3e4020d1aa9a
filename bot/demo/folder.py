"""The folder that keeps a demo: keys made once, settings, database, phones, and where its clock stood.

A path comes in; `DUNNOCK_*` variables for the parts of the demo, and values for the program inside, go out.
"""

from __future__ import annotations

import json
import os
import secrets
import shutil
from base64 import b64encode
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from bot.core.errors import DunnockError
from bot.gateway.profile import Profile, make_profile
from bot.seal import Sealer
from bot.store.engine import Store, open_store

GATEWAY = "standin"  # its name among the gateways; the clock and the phones of a demo look for it
BACKUP = "backup"  # takes over while that one is down
SENDER = "+447700900001"  # the programme's number, as in district/sites.toml
_KEYS, _CONFIG, _DATABASE, _PHONES, _CLOCK, _WHOLE = (
    "keys.json",
    "gateways.toml",
    "dunnock.db",
    "phones.db",
    "clock",
    "whole",
)
_OURS = (_KEYS, _CONFIG, _DATABASE, _PHONES, _CLOCK, _WHOLE)


@dataclass(frozen=True, slots=True)
class Folder:
    """An existing folder with the keys of its demo."""

    path: Path
    keys: Mapping[str, str]

    @property
    def database_url(self) -> str:
        return f"sqlite:///{self.path / _DATABASE}"

    @property
    def phones(self) -> Path:
        return self.path / _PHONES

    @property
    def is_whole(self) -> bool:
        """Whether the district was filled to its end."""
        return (self.path / _WHOLE).exists()

    def whole(self) -> None:
        (self.path / _WHOLE).touch()

    def store(self) -> Store:
        return open_store(self.database_url, Sealer.from_text(self.keys["seal"], self.keys["phone"]))

    def profile(self, port: int) -> Profile:
        """The stand-in at `port`, as the program of the past knows it."""
        address = f"http://127.0.0.1:{port}/messages"
        keys = self.keys
        return make_profile(
            GATEWAY, url=address, token=keys["token"], sender=SENDER, secrets=[keys["webhook"]]
        )

    def environment(self, standin_port: int) -> dict[str, str]:
        """What the parts of the demo are started with. Writes the file of gateways."""
        config = self.path / _CONFIG
        settings = (
            f'number = "{SENDER}"\ntoken = "{self.keys["token"]}"\nsecret = ["{self.keys["webhook"]}"]\n'
        )
        config.write_text(
            f"# Written at every start of the demo.\n[gateways.{GATEWAY}]\n"
            f'url = "http://127.0.0.1:{standin_port}/messages"\n'
            f"{settings}"
            f"[[gateways.{GATEWAY}.tariff]]\n"
            'from = 2020-01-01\nprefix = "+"\nper_segment = "0.02"\ncurrency = "USD"\n'
            f'[gateways.{BACKUP}]\nurl = "http://127.0.0.1:{standin_port}/backup/messages"\n{settings}'
            f'[[routes]]\ngateways = ["{GATEWAY}", "{BACKUP}"]\n',
            encoding="utf-8",
        )
        return os.environ | {
            "DUNNOCK_DATABASE_URL": self.database_url,
            "DUNNOCK_SECRET_KEY": self.keys["secret"],
            "DUNNOCK_SEAL_KEYS": self.keys["seal"],
            "DUNNOCK_PHONE_KEY": self.keys["phone"],
            "DUNNOCK_CONFIG": str(config),
            "STANDIN_TOKEN": self.keys["token"],
            "STANDIN_SECRET": self.keys["webhook"],
        }

    def keep_time(self, programme_now: datetime) -> None:
        """Note how far the demo has come, so that the next start goes on from there."""
        (self.path / _CLOCK).write_text(programme_now.isoformat(), encoding="ascii")

    def kept_time(self) -> datetime | None:
        try:
            return datetime.fromisoformat((self.path / _CLOCK).read_text(encoding="ascii"))
        except (FileNotFoundError, ValueError):
            return None


def open_folder(path: Path, *, fresh: bool) -> Folder:
    """Open the folder of a demo, or make it. `fresh`, or a demo that was not filled to its end, begins anew.

    Raises DunnockError where something else lives in the folder: nothing that is not the demo's is removed.
    """
    foreign = [each.name for each in path.glob("*") if not each.name.startswith(_OURS)]
    if foreign:
        raise DunnockError(
            f"{path} holds other things ({', '.join(sorted(foreign)[:3])}). Name a new folder."
        )
    if path.exists() and (fresh or not (path / _WHOLE).exists()):
        shutil.rmtree(path)
    path.mkdir(mode=0o700, parents=True, exist_ok=True)
    keys = path / _KEYS
    if not keys.exists():
        keys.write_text(json.dumps(_new_keys(), indent=2), encoding="ascii")
        keys.chmod(0o600)
    return Folder(path, json.loads(keys.read_text(encoding="ascii")))


def _new_keys() -> dict[str, str]:
    def key() -> str:
        return b64encode(secrets.token_bytes(32)).decode()

    return {
        "secret": secrets.token_urlsafe(32),
        "seal": f"1:{key()}",
        "phone": key(),
        "token": secrets.token_urlsafe(24),
        "webhook": f"whsec_{key()}",
    }
