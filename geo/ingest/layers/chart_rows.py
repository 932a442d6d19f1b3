"""What contours and depth areas have in common on the way in: unit and sign as declared, and where a row is from."""

from geo.ingest.checks.report import FileReport
from geo.ingest.layers.fields import Row
from geo.ingest.layers.layer_file import Layer
from geo.ingest.layers.soundings import DEEPEST_SEA_M, UNIT_M
from geo.ingest.settings import DepthAreasFile, DepthContoursFile


def declared(
    section: DepthContoursFile | DepthAreasFile, name: str, columns: tuple[str, ...], report: FileReport
) -> bool:
    """Ask for unit, sign and depth columns; True when all are there."""
    asked = [
        ("unit", section.unit, 'declare unit = "metre", "foot" or "fathom"', "the unit of the depths"),
        ("positive", section.positive, 'declare positive = "down" or "up"', "the sign of the depths"),
    ]
    asked += [
        (f"columns.{one}", getattr(section.columns, one), f"map {one} in [{name}.columns]", f"the column of {one}")
        for one in columns
    ]  # fmt: skip
    for field, value, cure, what in asked:
        if value is None:
            report.add("ask", f"{what} is not declared", f"{cure} in [{name}]", field=f"{name}.{field}")
    return all(value is not None for _, value, _, _ in asked)


def signed_depth_m(row: Row, section: DepthContoursFile | DepthAreasFile, field: str) -> float | None:
    """Give a depth of a row [m, positive down], None (with a caution) when the cell holds none."""
    depth = row.number_in(field, -DEEPEST_SEA_M, DEEPEST_SEA_M, "the depth [m]", UNIT_M[section.unit])
    return None if depth is None else depth if section.positive == "down" else -depth


def row_origin(layer: Layer, index: int) -> str:
    """Give "file row k" of a row."""
    return f"{layer.file} {layer.row(index).label.split(' (')[0]}"
