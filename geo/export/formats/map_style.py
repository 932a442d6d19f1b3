"""Layer styles in the desktop map program's own style language, so that the GeoPackage opens already drawn."""

from dataclasses import replace

from lxml import etree

from geo.export.drawing.palette import (
    BLACK,
    MARKS,
    NOT_USABLE,
    REDDISH_PURPLE,
    SURVEY_FIRST,
    USABLE,
    VERMILLION,
    Mark,
)

Look = tuple[str, dict[str, str]]  # the kind of a symbol's layer, and its settings
_WHITE = "#FFFFFF"
# What a site says of itself, each in a colour and a shape of its own; what is not known to be open is never as open.
STATUS_MARKS = {
    "open": USABLE,
    "closed": replace(NOT_USABLE, colour=VERMILLION, style_marker="square"),
    "seasonal": replace(SURVEY_FIRST, style_marker="diamond"),
    "unknown": SURVEY_FIRST,
}


def layer_styles() -> dict[str, str]:
    """Give the style document of each spatial layer, by layer name."""
    label = 'if("rank" is null, \'\', to_string("rank") || \' \') || "name"'
    return {
        "ranked": _categories("marker", "state", {one.label: _marker(one, 4.0) for one in MARKS[:3]}, label),
        "water": _categories("fill", "state", {one.label: _fill(one) for one in MARKS}, '"name"'),
        "runs": _single("line", _line(REDDISH_PURPLE, 1.4, "solid")),
        "legs": _categories(
            "line", "load", {"loaded": _line(BLACK, 0.6, "solid"), "empty": _line(BLACK, 0.4, "dash")}
        ),
        "survey_runs": _single("line", _line(REDDISH_PURPLE, 0.3, "dash")),
        "supply": _single("line", _line(BLACK, 1.6, "dot"), '"name"'),
        "hover_points": _single("marker", _marker(MARKS[0], 2.5)),
        "hover_sectors": _single("marker", _marker(MARKS[0], 1.5)),
        "sites": _categories(
            "marker", "status", {word: _marker(one, 3.5) for word, one in STATUS_MARKS.items()}, '"name"'
        ),
    }


def _rgb(colour: str, alpha: int = 255) -> str:
    return ",".join(str(int(colour[i : i + 2], 16)) for i in (1, 3, 5)) + f",{alpha}"


def _document(renderer: etree._Element, label: str | None) -> str:
    root = etree.Element("qgis", version="3.22.0", styleCategories="Symbology|Labeling")
    root.append(renderer)
    if label is not None:
        root.append(_labeling(label))
    return etree.tostring(root, encoding="unicode")


def _symbol(kind: str, name: str, class_name: str, options: dict[str, str]) -> etree._Element:
    symbol = etree.Element("symbol", type=kind, name=name, alpha="1", clip_to_extent="1", force_rhr="0")
    layer = etree.SubElement(
        symbol, "layer", {"class": class_name, "enabled": "1", "locked": "0", "pass": "0"}
    )
    values = etree.SubElement(layer, "Option", type="Map")
    for key, value in options.items():
        etree.SubElement(values, "Option", name=key, type="QString", value=value)
        # Versions before 3.26 read "prop".
        etree.SubElement(layer, "prop", k=key, v=value)
    return symbol


def _marker(mark: Mark, size_mm: float) -> Look:
    return "SimpleMarker", {
        "name": mark.style_marker,
        "color": _rgb(mark.colour),
        "outline_color": _rgb(_WHITE),
        # Wider would eat the arms of a cross.
        "outline_width": "0.2",
        "size": f"{size_mm}",
        "size_unit": "MM",
    }


def _fill(mark: Mark) -> Look:
    return "SimpleFill", {
        "color": _rgb(mark.colour, 200),
        "style": mark.fill_pattern,
        "outline_color": _rgb(mark.colour),
        "outline_width": "0.4",
        "outline_width_unit": "MM",
    }


def _line(colour: str, width_mm: float, pattern: str) -> Look:
    return "SimpleLine", {
        "line_color": _rgb(colour),
        "line_width": f"{width_mm}",
        "line_width_unit": "MM",
        "line_style": pattern,
    }


def _renderer(kind: str, **attributes: str) -> etree._Element:
    plain = {"symbollevels": "0", "forceraster": "0", "enableorderby": "0"}
    return etree.Element("renderer-v2", {"type": kind} | attributes | plain)


def _single(kind: str, layer: Look, label: str | None = None) -> str:
    renderer = _renderer("singleSymbol")
    etree.SubElement(renderer, "symbols").append(_symbol(kind, "0", *layer))
    return _document(renderer, label)


def _categories(kind: str, column: str, entries: dict[str, Look], label: str | None = None) -> str:
    renderer = _renderer("categorizedSymbol", attr=column)
    categories = etree.SubElement(renderer, "categories")
    symbols = etree.SubElement(renderer, "symbols")
    for number, (value, layer) in enumerate(entries.items()):
        same = {"value": value, "label": value, "symbol": str(number)}
        etree.SubElement(categories, "category", same | {"render": "true", "type": "string"})
        symbols.append(_symbol(kind, str(number), *layer))
    return _document(renderer, label)


def _labeling(expression: str) -> etree._Element:
    labeling = etree.Element("labeling", type="simple")
    settings = etree.SubElement(labeling, "settings")
    font = {"fontSize": "10", "fontSizeUnit": "Point", "textColor": _rgb(BLACK)}
    style = etree.SubElement(settings, "text-style", {"fieldName": expression, "isExpression": "1"} | font)
    halo = {"bufferDraw": "1", "bufferSize": "1", "bufferSizeUnits": "MM", "bufferColor": _rgb(_WHITE)}
    etree.SubElement(style, "text-buffer", halo)
    etree.SubElement(settings, "placement", placement="6", dist="0.5", distUnits="MM", offsetType="1")
    etree.SubElement(settings, "rendering", drawLabels="1", obstacle="1", displayAll="0")
    return labeling
