"""Settings from the environment, prefix FETCHWATER_. An unknown key of the prefix is refused at start."""

import os
from pathlib import Path
from typing import Any, Literal

from pydantic import Field, SecretStr
from pydantic_settings import BaseSettings, SettingsConfigDict

from geo.base.errors import BadArgument

PREFIX = "FETCHWATER_"


class Settings(BaseSettings):
    """Everything that can be set from outside; REFERENCE.md lists each key with its meaning."""

    model_config = SettingsConfigDict(env_prefix=PREFIX, frozen=True)

    data_dir: Path = Field(
        default=Path.home() / ".local" / "share" / "fetchwater",
        description="folder of the embedded store (surveys and rankings asked)",
    )
    store_url: SecretStr | None = Field(
        default=None, description="PostGIS instead of the embedded file: postgresql://user@host:5432/database"
    )
    store_password_file: Path | None = Field(
        default=None, description="file with the password for that address, so that it stands in no setting"
    )
    region: Path | None = Field(default=None, description="region folder that `fetchwater serve` answers for")
    survey_at_start: bool = Field(
        default=False,
        description="true: a service that finds no survey makes one before it answers; else its map page starts one",
    )
    background_tiles: str | None = Field(
        default=None,
        description="address of background tiles for the map page, https://.../{z}/{x}/{y}.png; none by default",
        pattern=r"^https?://[^\s'\";]+$",
    )
    reading: Literal["open", "closed"] = Field(default="open", description="closed: readers need a token too")
    editing: Literal["open", "tokens"] = Field(
        default="open",
        description="open: who sits at this machine edits; tokens: whoever edits needs a token",
    )
    host_names: str | None = Field(
        default=None,
        description="names beside localhost by which the service is asked, with commas between: hq.example,hq",
        pattern=r"^[A-Za-z0-9.,\s-]*$",
    )
    requests_per_minute: int = Field(
        default=0, ge=0, description="largest number for one client; 0 is no limit"
    )
    max_body_bytes: int = Field(default=1_048_576, ge=1_024, description="largest request body accepted")


def read_settings(**overrides: Any) -> Settings:
    """Give the settings of this process.

    Raises: BadArgument for an environment key with our prefix that no setting answers to.
    """
    known = {PREFIX + name.upper() for name in Settings.model_fields}
    unknown = sorted(key for key in os.environ if key.upper().startswith(PREFIX) and key.upper() not in known)
    if unknown:
        raise BadArgument(
            f"unknown setting {', '.join(unknown)} in the environment; known are {', '.join(sorted(known))}. "
            "Fix: correct or remove it"
        )
    given = {name: value for name, value in overrides.items() if value is not None}
    return Settings(**given)
