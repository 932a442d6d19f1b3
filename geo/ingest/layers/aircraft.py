"""Aircraft profiles: TOML with a unit and a source beside every value, read into SI or refused with every fault."""

import math
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import Any

from geo.base.errors import BadInput
from geo.ingest.checks.report import FileReport, Report
from geo.ingest.layers.aircraft_keys import LIFT_TABLES, METHODS, TABLES, UNITS, WEIGHT, ProfileValue
from geo.records.aircraft import (
    METHOD_NAMES,
    AircraftProfile,
    GroundHose,
    HoverFill,
    LiftTable,
    RamIntake,
    Weights,
)

LARGEST_FILE_BYTES = 65_536


@dataclass(frozen=True)
class _Reader:
    """Reads the tables of one profile; every fault goes into the report."""

    report: FileReport

    def fault(self, field: str | None, rule: str, fix: str, value: object = None) -> None:
        """Take one fault in."""
        self.report.add("refuse", rule, fix, field=field, value=value)

    def table(
        self, parent: dict[str, Any], key: str, place: str, known: Iterable[str]
    ) -> dict[str, Any] | None:
        """Give a sub-table whose unknown keys were reported; None (reported) when it is missing or no table."""
        found = parent.get(key)
        if not isinstance(found, dict):
            rule = "is missing" if found is None else "is not a table"
            self.fault(place, rule, f"write [{place}] or {place} = {{ ... }}", found)
            return None
        for name in sorted(set(found) - set(known)):
            self.fault(f"{place}.{name}", "unknown key", f"known here: {', '.join(sorted(known))}")
        return found

    def section(self, document: dict[str, Any], name: str, specs: dict[str, ProfileValue]) -> dict[str, Any]:
        """Give the fields of one section, each None when anything was wrong with it, all of it reported."""
        table = self.table(document, name, name, specs)
        if table is None:
            return {}
        asked = {key: spec for key, spec in specs.items() if key in table or not spec.optional}
        return {spec.field: self.value(table, key, f"{name}.{key}", spec) for key, spec in asked.items()}

    def value(self, parent: dict[str, Any], key: str, place: str, spec: ProfileValue) -> Any:
        """Give one value, or list of values, in the record's unit; its source must be there."""
        amount = "values" if spec.listed else "value"
        entry = self.table(parent, key, place, (amount, "unit", "source"))
        if entry is None:
            return None
        source, raw = entry.get("source"), entry.get(amount)
        if not isinstance(source, str) or not source.strip():
            fix = 'add source = "document and page", or "common practice, no source"'
            self.fault(f"{place}.source", "every value needs a source", fix, source)
        if raw is None:
            self.fault(f"{place}.{amount}", "is missing", f"write {amount} = ...")
            return None
        if spec.quantity == "flag":
            return self.flag(raw, f"{place}.value")
        if spec.quantity == "word":
            return self.word(raw, spec.words, f"{place}.value")
        unit, units = entry.get("unit"), UNITS[spec.quantity]
        factor = units.get(unit) if isinstance(unit, str) else None
        if factor is None:
            rule = f"is not a unit of {spec.quantity}"
            self.fault(f"{place}.unit", rule, f"use one of {', '.join(units)}", unit)
        read = self.numbers if spec.listed else self.number
        return read(raw, factor, spec, f"{place}.{amount}")

    def flag(self, raw: object, place: str) -> bool | None:
        """Give yes or no; None (reported) for anything else."""
        if isinstance(raw, bool):
            return raw
        self.fault(place, "is not true or false", "write value = true or value = false", raw)
        return None

    def word(self, raw: object, words: tuple[str, ...], place: str) -> str | None:
        """Give one of the words that are known; None (reported) for anything else."""
        if isinstance(raw, str) and raw in words:
            return raw
        self.fault(place, "is not one of the words known here", f"use one of: {', '.join(words)}", raw)
        return None

    def number(self, raw: object, factor: float | None, spec: ProfileValue, place: str) -> float | None:
        """Give one number in the record's unit; None (reported) when it is no number or out of range."""
        if factor is None:
            return None
        if isinstance(raw, bool) or not isinstance(raw, int | float) or not -1e12 < raw < 1e12:
            self.fault(place, "is not a finite number", "write a number without quotes", raw)
            return None
        value = raw * factor
        # A factor such as 0.01 must not push a limit value out of its own range.
        slack = 1e-9 * max(1.0, abs(value))
        if not spec.least - slack <= value <= spec.most + slack:
            rule = f"must lie between {spec.least:g} and {spec.most:g} ({spec.field}), but is {value:g}"
            self.fault(place, rule, "check the number and its unit", raw)
            return None
        if spec.quantity != "count":
            return value
        if value == int(value):
            return int(value)
        self.fault(place, "is not a whole number", "write a whole number", raw)
        return None

    def numbers(
        self, raw: object, factor: float | None, spec: ProfileValue, place: str
    ) -> list[float | None] | None:
        """Give a list of numbers in the record's unit; None when anything was wrong, all of it reported."""
        if not isinstance(raw, list) or len(raw) < 2:
            self.fault(place, "needs at least two numbers", "write values = [ ..., ... ]", raw)
            return None
        numbers = [self.number(item, factor, spec, f"{place}[{i}]") for i, item in enumerate(raw)]
        return None if None in numbers else numbers


def _lift_tables(reader: _Reader, document: dict[str, Any]) -> dict[str, Any]:
    """Give the tables by density altitude that the profile has, under the names of the record's fields."""
    found: dict[str, Any] = {}
    for name, specs in LIFT_TABLES.items():
        if name in document:
            columns = reader.section(document, name, specs)
            found[name] = _lift_table(reader, name, columns)
            if name == "hover_payload":
                found["hover_payload_fuel_l"] = columns.get("fuel_l")
    if ("hover_weight" in document) == ("hover_payload" in document):
        rule = "needs one table of what can be lifted in the hover, not none and not two"
        fix = (
            "write [hover_weight], the greatest weight by density altitude; or [hover_payload] with its fuel"
        )
        reader.fault("hover_weight", rule, fix)
    if "weight" not in document:
        for name in sorted({"hover_weight", "low_speed_weight"} & set(document)):
            fix = "write [weight] with empty, crew, equipment, gross and fuel_density"
            reader.fault(name, "says nothing of water while the weights are not known", fix)
    return found


def _lift_table(reader: _Reader, name: str, columns: dict[str, Any]) -> LiftTable:
    key = "payload" if name == "hover_payload" else "weight"
    altitudes, masses = columns.get("density_altitude_m"), columns.get(f"{key}_kg")
    if altitudes is None or masses is None:
        return ()
    if len(altitudes) != len(masses):
        rule = f"has {len(altitudes)} altitudes but {len(masses)} {key}s"
        reader.fault(name, rule, f"give one {key} for each density altitude")
        return ()
    if any(b <= a for a, b in pairwise(altitudes)):
        reader.fault(f"{name}.density_altitude", "must rise from row to row", "sort the table by altitude")
    if any(b > a for a, b in pairwise(masses)):
        fix = "less can be lifted in thinner air: check the rows"
        reader.fault(f"{name}.{key}", "must not rise with density altitude", fix)
    return tuple(zip(altitudes, masses, strict=True))


def _weights(reader: _Reader, document: dict[str, Any], fields: dict[str, Any]) -> Weights | None:
    """Give the weights; None where the profile has none or they are at fault."""
    if "weight" not in document:
        return None
    read = reader.section(document, "weight", WEIGHT)
    if None in read.values() or len(read) != len(WEIGHT):
        return None
    weights = Weights(**read)
    left_kg, (limit_kg,) = weights.gross_kg - weights.operating_kg, _numbers(fields, "max_load_kg")
    if limit_kg > left_kg:
        rule = (
            f"leaves {left_kg:,.0f} kg over empty weight, crew and equipment: less than load.max_load of "
            f"{limit_kg:,.0f} kg even without fuel"
        )
        reader.fault("weight.gross", rule, "check the weights, or lower load.max_load", weights.gross_kg)
    return weights


def _cross_checks(reader: _Reader, fields: dict[str, Any], methods: dict[str, dict[str, Any]]) -> None:
    fuel_l, burn_l_h, reserve_s = _numbers(fields, "fuel_l", "fuel_burn_l_h", "reserve_s")
    if reserve_s >= fuel_l / burn_l_h * 3600.0:
        rule = f"is not below the endurance of {fuel_l / burn_l_h * 60.0:.0f} min"
        fix = "check fuel.capacity, fuel.burn and fuel.reserve"
        reader.fault("fuel.reserve", rule, fix, f"{reserve_s:g} s")
    _check_doors(reader, fields)
    rotor_m, tank_l, limit_kg = _numbers(fields, "rotor_diameter_m", "tank_l", "max_load_kg")
    for name, method in methods.items():
        radius_m, fraction = _numbers(method, "clear_radius_m", "least_load_fraction")
        if radius_m < rotor_m / 2.0:
            rule = f"is smaller than the rotor's radius of {rotor_m / 2.0:.1f} m"
            fix = "give the clear radius round the hover point"
            reader.fault(f"{name}.clear_radius", rule, fix, f"{radius_m:g} m")
        if limit_kg < fraction * tank_l:
            rule = f"cannot carry the least load of {fraction * tank_l:,.0f} L"
            reader.fault("load.max_load", rule, "check load.max_load and its unit", f"{limit_kg:g} kg")


def _check_doors(reader: _Reader, fields: dict[str, Any]) -> None:
    names = ("drop_speed_ms", "drop_least_flow_l_s", "drop_greatest_flow_l_s")
    if 0 < sum(name in fields for name in names) < len(names):
        fix = "give cycle.drop_speed, cycle.drop_least_flow and cycle.drop_greatest_flow, or none of them"
        reader.fault("cycle", "describes the doors in part", fix)
    _, least_l_s, most_l_s = _numbers(fields, *names)
    if least_l_s > most_l_s:
        rule = f"is above the greatest flow of {most_l_s:g} L/s"
        reader.fault("cycle.drop_least_flow", rule, "check both flows and their units", f"{least_l_s:g} L/s")


def _numbers(fields: dict[str, Any], *names: str) -> list[float]:
    """Give some of the fields; NaN, with which no comparison holds, for those that could not be read."""
    return [math.nan if fields.get(name) is None else float(fields[name]) for name in names]


def _sources(document: dict[str, Any]) -> dict[str, str]:
    """Collect field name -> source; those of a method or table carry its name and a dot in front."""
    found: dict[str, str] = {}
    for name, specs in (TABLES | METHODS | LIFT_TABLES | {"weight": WEIGHT}).items():
        prefix = "" if name in TABLES else f"{name}."
        given = document.get(name, {})
        found |= {prefix + spec.field: given[key]["source"] for key, spec in specs.items() if key in given}
    return found


def _identity(reader: _Reader, document: dict[str, Any]) -> tuple[str, str]:
    profile_id, name = document.get("id"), document.get("name")
    if not isinstance(profile_id, str) or re.fullmatch(r"[a-z][a-z0-9_]{0,63}", profile_id) is None:
        fix = 'write id = "my_helicopter": a small letter, then small letters, digits and _, at most 64'
        reader.fault("id", "is missing or not an identifier", fix, profile_id)
    if not isinstance(name, str) or not name.strip() or len(name) > 120:
        reader.fault("name", "is missing, empty or longer than 120 characters", 'write name = "..."', name)
    return str(profile_id), str(name)


def profile_from(document: dict[str, Any], file: str) -> AircraftProfile:
    """Build a profile from a parsed TOML document.

    Parameters: document, as tomllib gives it; file, the name to show in faults.
    Raises: BadInput with every fault: missing or unknown keys, a missing source, wrong units, ranges, order of tables.
    """
    report = Report()
    reader = _Reader(report.about(file))
    known = {"id", "name", "weight", *LIFT_TABLES, *TABLES, *METHODS}
    for key in sorted(set(document) - known):
        reader.fault(key, "unknown key", f"known at the top: {', '.join(sorted(known))}")
    profile_id, name = _identity(reader, document)
    fields: dict[str, Any] = {}
    for section, specs in TABLES.items():
        fields |= reader.section(document, section, specs)
    methods = {m: reader.section(document, m, specs) for m, specs in METHODS.items() if m in document}
    if not methods:
        reader.fault(None, "has no fill method", f"add one of {', '.join(f'[{m}]' for m in METHOD_NAMES)}")
    lifted = _lift_tables(reader, document)
    weights = _weights(reader, document, fields)
    _cross_checks(reader, fields, methods)
    report.raise_if_blocked()
    kinds = {"ram_intake": RamIntake, "ground_hose": GroundHose}
    built = {m: kinds.get(m, HoverFill)(**values) for m, values in methods.items()}
    told: dict[str, Any] = {"weights": weights, "sources": _sources(document)}
    return AircraftProfile(profile_id=profile_id, name=name, **told, **fields, **lifted, **built)


def _parse(data: bytes, file: str) -> dict[str, Any]:
    if len(data) > LARGEST_FILE_BYTES:
        rule = f"is larger than {LARGEST_FILE_BYTES:,} bytes"
        raise BadInput.of(file, rule, "give a profile, not another file", value=f"{len(data):,}")
    try:
        return tomllib.loads(data.decode("utf-8"))
    except (ValueError, RecursionError) as exc:  # bad TOML, bad UTF-8 and over-long integers are ValueErrors
        fix = "mend the file: TOML 1.0 in UTF-8; compare with a profile that comes with the program"
        raise BadInput.of(file, f"is not readable TOML: {exc}"[:300], fix) from exc


def profile_names() -> tuple[str, ...]:
    """Give the ids of the profiles that come with the program, sorted."""
    folder = files("geo") / "profiles"
    return tuple(sorted(p.name.removesuffix(".toml") for p in folder.iterdir() if p.name.endswith(".toml")))


def built_in_profile(profile_id: str) -> AircraftProfile:
    """Give a profile that comes with the program; never reads a path.

    Raises: BadInput when there is no profile of that id.
    """
    if profile_id not in profile_names():
        rule = "there is no built-in aircraft profile of this name"
        fix = f"use one of {', '.join(profile_names())}, or the path of your own .toml file"
        raise BadInput.of("aircraft profile", rule, fix, value=profile_id[:80])
    file = files("geo") / "profiles" / f"{profile_id}.toml"
    return profile_from(_parse(file.read_bytes(), file.name), file.name)


def read_profile(path: Path) -> AircraftProfile:
    """Read a user's own profile.

    Raises: BadInput with every fault, also when the file cannot be read or takes a built-in profile's id.
    """
    if not path.is_file():  # a pipe or device would never end
        raise BadInput.of(str(path), "there is no such file", "check the path")
    try:
        with path.open("rb") as stream:
            data = stream.read(LARGEST_FILE_BYTES + 1)
    except OSError as exc:
        rule = f"cannot be read: {exc.strerror}"
        raise BadInput.of(str(path), rule, "check the path and its permissions") from exc
    profile = profile_from(_parse(data, path.name), path.name)
    if profile.profile_id in profile_names():
        rule = "id is that of a built-in profile, so nobody could tell them apart"
        fix = "give your profile an id of its own"
        raise BadInput.of(path.name, rule, fix, field="id", value=profile.profile_id)
    return profile


def load_profile(name_or_path: str | Path) -> AircraftProfile:
    """Give a built-in profile by id, or the user's own by the path of its .toml file.

    A text that ends in .toml or is a Path is a path; anything else is an id. A service must hand over ids only.
    Raises: BadInput with every fault found.
    """
    if isinstance(name_or_path, Path) or name_or_path.lower().endswith(".toml"):
        return read_profile(Path(name_or_path))
    return built_in_profile(name_or_path)
