"""The environment, read once into one frozen value. What comes in: DUNNOCK_* variables and the TOML file that
DUNNOCK_CONFIG names. What goes out: `Settings`, or one error that names every fault."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, SecretStr, ValidationError
from pydantic_settings import BaseSettings, SettingsConfigDict

from bot.core.errors import Invalid, Problem
from bot.seal import Sealer

_PREFIX = "DUNNOCK_"


class GatewaySettings(BaseModel):
    """One gateway of the file: [gateways.NAME]. NAME stands in its hooks' addresses."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    profile: str = "json"
    url: str = Field(pattern="^https?://")
    number: str  # our number there, E.164 or a short code
    token: SecretStr  # bearer token of what we send
    secret: tuple[SecretStr, ...] = Field(min_length=1)  # 'whsec_' and base64; two while one is changed
    per_second: float | None = Field(default=None, gt=0)  # None: no limit of our own
    timeout_seconds: float = Field(default=10, gt=0, le=60)


class Limits(BaseModel):
    """[limits]: how much is done at once."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    in_flight: int = Field(default=64, ge=1, le=512)  # posts to gateways at the same time
    claim: int = Field(default=500, ge=1, le=5000)  # messages claimed in one statement
    batch: int = Field(default=100, ge=1, le=1000)  # pairs woken or replies read in one transaction


class Config(BaseModel):
    """The whole TOML file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    gateways: Mapping[str, GatewaySettings] = Field(default_factory=dict)
    limits: Limits = Limits()


class Settings(BaseSettings):
    """What the environment says. Secrets never show in `repr`, logs or errors."""

    model_config = SettingsConfigDict(env_prefix=_PREFIX, frozen=True, hide_input_in_errors=True)

    database_url: SecretStr = Field(min_length=1)  # may hold a password
    secret_key: SecretStr = Field(min_length=32)
    seal_keys: SecretStr = Field(min_length=1)
    phone_key: SecretStr = Field(min_length=1)
    config: Path | None = None

    def sealer(self) -> Sealer:
        """Build the sealer from both keys; `load` has already proved that it can be built."""
        return Sealer.from_text(self.seal_keys.get_secret_value(), self.phone_key.get_secret_value())

    def file(self) -> Config:
        """Read the file of gateways and limits; the defaults where none is named. Raise Invalid."""
        if self.config is None:
            return Config()
        try:
            found: dict[str, Any] = tomllib.loads(self.config.read_text(encoding="utf-8"))
            return Config.model_validate(found)
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
            raise Invalid([Problem(_PREFIX + "CONFIG", f"{self.config} can't be read: {error}")]) from error
        except ValidationError as error:
            raise Invalid(_problems(error, f"{self.config}: ")) from error


def load() -> Settings:
    """Read the environment; raise Invalid with every missing or unusable setting, named in full."""
    try:
        settings = Settings()  # type: ignore[call-arg]  # the environment fills them
    except ValidationError as error:
        raise Invalid(_problems(error, _PREFIX, upper=True)) from error
    try:
        settings.sealer()
    except Invalid as error:
        named = [Problem(_PREFIX + fault.field.upper(), fault.message) for fault in error.problems]
        raise Invalid(named) from error
    return settings


def _problems(error: ValidationError, before: str, *, upper: bool = False) -> list[Problem]:
    """Turn pydantic's faults into ours, without the refused values: they may be secrets."""
    found = []
    for fault in error.errors(include_input=False, include_url=False):
        name = ".".join(map(str, fault["loc"]))
        words = "is not set" if fault["type"] == "missing" else fault["msg"]
        found.append(Problem(before + (name.upper() if upper else name), words))
    return found
