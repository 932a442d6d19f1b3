"""Which column of a user's file is which field of a site, and which of his words is which of ours."""

import re
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError

from geo.base.errors import BadArgument, BadInput
from geo.base.fault import Fault
from geo.base.file_limits import RISKY_STARTS, short_names
from services.store.site_record import SiteFields

# Beside the fields: which site it is, and which revision of it the file was made of.
KEYS = ("site_id", "revision")
FIELDS = (*KEYS, *SiteFields.model_fields)
PLACES = ("longitude_deg", "latitude_deg")
DAYS = ("valid_from", "valid_to", "permission_to", "inspected_on", "inspection_due", "depth_evidence_to")
NUMBERS = ("most_litres", "revision")
_DAY = re.compile(r"(\d{4})[-/](\d\d)[-/](\d\d)([T ].*)?")


class SiteMapping(BaseModel):
    """A mapping as it stands in a TOML file; columns None: every column that bears the name of a field."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    layer: str | None = None
    crs: str | None = None
    encoding: str | None = None
    columns: dict[str, str] | None = None
    words: dict[str, dict[str, str]] = {}

    def taken(self, there: Sequence[str], file: str) -> dict[str, str]:
        """Give field -> column for the columns of a file.

        Raises: BadInput for a column that is mapped and not there, or two columns for one field.
        """
        return _by_name(there, file) if self.columns is None else self._mapped(self.columns, there, file)

    @staticmethod
    def _mapped(columns: dict[str, str], there: Sequence[str], file: str) -> dict[str, str]:
        mapped = {ours: theirs for ours, theirs in columns.items() if ours not in PLACES}
        absent = [theirs for theirs in mapped.values() if theirs not in there]
        if absent:
            rule, fix = "the column is not in the file", f"map one of: {', '.join(there) or 'none'}"
            raise BadInput([Fault("refuse", file, rule, fix, field=one) for one in absent])
        return mapped

    def cell(self, field: str, value: Any, *, guarded: bool) -> Any:
        """Give a cell as the field has it, None for an empty one.

        Parameters: guarded, whether text that a spreadsheet would run bears an apostrophe (CSV).
        """
        if isinstance(value, float) and value.is_integer():
            value = int(value)
        text = "" if value is None else str(value).strip()
        if guarded and text.startswith("'") and text[1:].lstrip(" ").startswith(RISKY_STARTS):
            text = text[1:]
        text = self._word(field, text)
        day = _DAY.fullmatch(text) if field in DAYS else None
        if day is not None:
            return f"{day[1]}-{day[2]}-{day[3]}"
        return text or None

    def _word(self, field: str, text: str) -> str:
        words = {theirs.strip().lower(): ours for theirs, ours in self.words.get(field, {}).items()}
        return words.get(text.lower(), text)


def _by_name(there: Sequence[str], file: str) -> dict[str, str]:
    """Give field -> column for the columns that bear the name of a field, or its name as a Shapefile has it."""
    names = {short: ours for ours, short in short_names(FIELDS).items()} | {name: name for name in FIELDS}
    found: dict[str, str] = {}
    for theirs in there:
        ours = names.get(theirs.lower())
        if ours is None or ours in PLACES:
            continue
        if ours in found:
            rule = f"the columns {found[ours]} and {theirs} both stand for {ours}"
            raise BadInput.of(file, rule, f"say which with --map {ours}=COLUMN", "ask")
        found[ours] = theirs
    return found


def read_mapping(given: Sequence[str]) -> SiteMapping:
    """Give the mapping of --map: one TOML file, or FIELD=COLUMN as often as wanted, also layer=NAME and crs=EPSG:n.

    Raises: BadArgument for an unknown field, a field given twice, or a file that cannot be read.
    """
    if len(given) == 1 and "=" not in given[0]:
        return _checked(_toml(Path(given[0])), given[0])
    columns: dict[str, str] = {}
    how: dict[str, Any] = {}
    for text in given:
        ours, equals, theirs = (part.strip() for part in text.partition("="))
        if not equals or not ours or not theirs:
            raise BadArgument(f"--map {text!r} is not understood. Fix: FIELD=COLUMN, or one TOML file")
        place = how if ours in ("layer", "crs", "encoding") else columns
        if ours in place:
            raise BadArgument(f"--map {ours} is given twice. Fix: give it once")
        place[ours] = theirs
    return _checked(how | ({"columns": columns} if columns else {}), "--map")


def _toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as problem:
        raise BadArgument(
            f"{path}: the mapping cannot be read ({problem.strerror}). Fix: FIELD=COLUMN, or a TOML file"
        ) from problem
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as problem:
        raise BadArgument(f"{path}: the mapping is no TOML ({problem}). Fix: mend it there") from problem


def _checked(given: dict[str, Any], where: str) -> SiteMapping:
    try:
        mapping = SiteMapping.model_validate(given)
    except ValidationError as problem:
        first = problem.errors()[0]
        place = ".".join(map(str, first["loc"]))
        raise BadArgument(
            f"{where}: {place}: {first['msg']}. Fix: layer, crs, encoding, [columns] and [words.FIELD] are known"
        ) from problem
    unknown = [one for one in (*(mapping.columns or ()), *mapping.words) if one not in FIELDS]
    if unknown:
        raise BadArgument(
            f"{where}: {', '.join(unknown)} is no field of a site. Fix: choose from {', '.join(FIELDS)}"
        )
    return mapping
