"""Reads fill stations: hydrants, tankers, tanks and mixing plants, with the units that the file's section declares."""

from typing import get_args

from geo.base.units import LITRE_PER_US_GALLON
from geo.ingest.layers.reader import FileReader
from geo.ingest.layers.records import read_records
from geo.ingest.layers.table import Row
from geo.ingest.settings import UNIT_M, FillStationsFile
from geo.records.region import Permission, RegionFrame, WaterBody
from geo.records.station import LONGEST_COUPLING_S, Agent, FillStation, StationKind

KINDS: tuple[StationKind, ...] = get_args(StationKind)
AGENTS: tuple[Agent, ...] = get_args(Agent)
PERMISSIONS: tuple[Permission, ...] = get_args(Permission)
FLOW_L_S = {"L/s": 1.0, "L/min": 1.0 / 60.0, "US gal/min": LITRE_PER_US_GALLON / 60.0}
VOLUME_L = {"L": 1.0, "m3": 1_000.0, "US gal": LITRE_PER_US_GALLON}
# Beyond these a unit or a cell is wrong.
MOST_FLOW_L_S, MOST_VOLUME_L, MOST_RADIUS_M, MOST_DEPTH_M = 500.0, 1e8, 500.0, 20.0
# key of the section -> the columns whose unit it declares, and how it is asked for
UNITS = {
    "flow_unit": (("flow", "refill"), '"L/s", "L/min" or "US gal/min"'),
    "volume_unit": (("volume",), '"L", "m3" or "US gal"'),
    "length_unit": (("clear_radius", "depth"), '"metre" or "foot"'),
}


def read_stations(
    reader: FileReader, section: FillStationsFile, frame: RegionFrame, bodies: tuple[WaterBody, ...]
) -> tuple[FillStation, ...]:
    """Give the fill stations. What cannot be read is unknown, and makes its station "survey first"; an id that is also
    that of a water blocks."""
    for key, (ours, known) in UNITS.items():
        theirs = [section.columns[one] for one in ours if one in section.columns]
        if theirs and getattr(section, key) is None:
            fix = f"declare {key} = {known}"
            what = f"the unit of {', '.join(theirs)}"
            reader.report.about(section.file).ask_for("fill_stations", key, what, fix)
    waters = {body.body_id for body in bodies}

    def station(row: Row, station_id: str) -> FillStation | None:
        if station_id in waters:
            rule = "a water of the region has the same id, so that nobody could tell them apart"
            row.complain("id", rule, "give the station an id of its own", "refuse")
            return None
        return _station(row, station_id, section)

    return read_records(reader, section, frame, station, letter="t", expect="point")


def _station(row: Row, station_id: str, section: FillStationsFile) -> FillStation:
    flow = FLOW_L_S[section.flow_unit or "L/s"]
    length = UNIT_M[section.length_unit or "metre"]
    volume = VOLUME_L[section.volume_unit or "L"]
    kind = row.word("kind", section.kinds, KINDS, "fill_stations.kinds")
    first, last = row.day("from"), row.day("to")
    if first is not None and last is not None and last < first:
        row.complain("to", "the station goes before it comes; it counts as never there", "mend the days")
    slope = row.number_in("slope_percent", 0.0, 100.0, "the slope [%]")
    return FillStation(
        station_id=station_id,
        name=row.text("name") or station_id,
        kind=kind,
        point=row.shape,
        origin=row.origin,
        agent=row.word("agent", section.agents, AGENTS, "fill_stations.agents"),
        flow_l_s=row.number_in("flow", 0.01, MOST_FLOW_L_S, "the flow [L/s]", flow),
        coupling_s=row.number_in("coupling_s", 0.0, LONGEST_COUPLING_S, "the coupling time [s]"),
        volume_l=row.number_in("volume", 0.0, MOST_VOLUME_L, "the volume [L]", volume),
        refill_l_s=row.number_in("refill", 0.0, MOST_FLOW_L_S, "the refill [L/s]", flow),
        clear_radius_m=row.number_in("clear_radius", 0.0, MOST_RADIUS_M, "the clear radius [m]", length),
        slope=None if slope is None else slope / 100.0,
        depth_m=row.number_in("depth", 0.0, MOST_DEPTH_M, "the depth of the tank [m]", length),
        permission=row.word("permission", section.permissions, PERMISSIONS, "fill_stations.permissions"),
        owner=row.text("owner"),
        note=row.text("note"),
        valid_from=first,
        valid_to=last,
    )
