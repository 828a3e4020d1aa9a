"""The environment, read once into one frozen value. What comes in: DUNNOCK_* variables and the TOML file that
DUNNOCK_CONFIG names. What goes out: `Settings`, or one error that names every fault."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, SecretStr, ValidationError, model_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

from bot.core.errors import Invalid, Problem
from bot.seal import Sealer

_PREFIX = "DUNNOCK_"


class TariffSettings(BaseModel):
    """[[gateways.NAME.tariff]]: what one part of a text costs from a day on, to numbers that begin so."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    since: date = Field(alias="from")
    prefix: str = Field(default="+", pattern=r"^\+\d*$")
    per_segment: Decimal = Field(ge=0)
    currency: str = Field(pattern="^[A-Z]{3}$")


class RouteSettings(BaseModel):
    """[[routes]]: which gateways carry the texts of a site, or to numbers that begin so; the first is used
    while it works."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    site: str | None = None
    prefix: str | None = Field(default=None, pattern=r"^\+\d+$")
    gateways: tuple[str, ...] = Field(min_length=1)


class GatewaySettings(BaseModel):
    """One gateway of the file: [gateways.NAME]. NAME stands in its hooks' addresses."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    profile: str = "json"  # one that ships, or a file: './ours.toml', from the folder of this file
    url: str = Field(pattern="^https?://")
    number: str  # our number there, E.164 or a short code
    secret: tuple[SecretStr, ...] = ()  # proves who sends its hooks; two while one is changed
    token: SecretStr = SecretStr("")  # these four as the profile needs them
    user: str = ""
    password: SecretStr = SecretStr("")
    hook_user: str = ""
    extra: Mapping[str, SecretStr] = Field(default_factory=dict)  # any other name in braces of the profile
    addresses: tuple[str, ...] = ()  # networks that its hooks come from; none: from anywhere
    region: str | None = None  # country of senders that are written without a country code
    per_second: float | None = Field(default=None, gt=0)  # None: no limit of our own
    timeout_seconds: float = Field(default=10, gt=0, le=60)
    loop_minutes: int = Field(default=0, ge=0, le=1440)  # how often it sends itself a test text; 0: never
    tariff: tuple[TariffSettings, ...] = ()


class MailSettings(BaseModel):
    """[mail]: the server that takes alerts to those on call who have an address; else they get texts."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    host: str = Field(min_length=1)
    port: int = Field(default=587, ge=1, le=65535)
    sender: str = Field(pattern=r"^[^@\s]+@[^@\s]+$")
    security: Literal["starttls", "tls", "none"] = "starttls"  # none: only to a server on this machine
    user: str = ""
    password: SecretStr = SecretStr("")
    timeout_seconds: float = Field(default=10, gt=0, le=60)

    @model_validator(mode="after")
    def _is_safe(self) -> MailSettings:
        if self.security == "none" and self.host not in ("localhost", "127.0.0.1", "::1"):
            raise ValueError("security 'none' is for a mail server on this machine only")
        return self


class Limits(BaseModel):
    """[limits]: how much is done at once."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    in_flight: int = Field(default=64, ge=1, le=512)  # posts to gateways at the same time
    claim: int = Field(default=500, ge=1, le=5000)  # messages claimed in one statement
    batch: int = Field(default=100, ge=1, le=1000)  # pairs woken or replies read in one transaction


class Retention(BaseModel):
    """[retention]: for how many days after the end of a follow-up the record of a pair is kept, and what
    strangers wrote. Without it everything is kept: how long is for the programme and its law to say."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    days: int = Field(ge=30)


class Config(BaseModel):
    """The whole TOML file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    public_url: str = ""  # where the outside reaches us: for gateways that are told, and for links in alerts
    proxies: int = Field(default=0, ge=0, le=5)  # in front of us, whose word on the sender's address we take
    gateways: Mapping[str, GatewaySettings] = Field(default_factory=dict)
    routes: tuple[RouteSettings, ...] = ()
    mail: MailSettings | None = None
    retention: Retention | None = None
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
