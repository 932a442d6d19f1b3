"""In which encoding the text of a Shapefile's table is written. Runs in the worker."""

import codecs
from pathlib import Path

from geo.ingest.files.refusal import Note, Refusal, caution


def dbf_encoding(shapefile: Path, declared: str | None) -> tuple[str | None, list[Note]]:
    """Give the encoding to read the .dbf with, and cautions.

    Raises: Refusal (ask) when text is neither ASCII nor UTF-8 and nobody says what it is, or when what they say does
    not fit the bytes.
    """
    table = shapefile.with_suffix(".dbf")
    if not table.exists():
        rule = "the Shapefile has no .dbf; names and attributes are missing"
        return declared, [caution(rule, "send all parts")]
    text = _records(table)
    if declared is None and not shapefile.with_suffix(".cpg").exists():
        if text.isascii():
            return "ASCII", []
        if _fits(text, "UTF-8"):
            return "UTF-8", [caution("the text carries no encoding; it was read as UTF-8", "add a .cpg file")]
        fix = 'declare encoding in region.toml, for example "ISO-8859-1" or "CP1250"'
        raise Refusal("the text carries no encoding and is not UTF-8", fix, "ask", field="encoding")
    stated = declared if declared is not None else _stated(shapefile.with_suffix(".cpg"))
    if not _fits(text, stated):
        rule, fix = (
            "the text does not fit the encoding that is stated for it",
            "declare the true encoding in region.toml",
        )
        raise Refusal(rule, fix, "ask", field="encoding", value=stated)
    return stated, []


def _stated(cpg: Path) -> str:
    name = cpg.read_text("ascii", "replace").strip()[:40]
    return f"CP{name}" if name.isdigit() and not name.startswith("8859") else name


def _fits(text: bytes, encoding: str) -> bool:
    try:
        codecs.lookup(encoding)
        text.decode(encoding)
    except (LookupError, UnicodeDecodeError):
        return False
    return True


def _records(table: Path) -> bytes:
    data = table.read_bytes()
    start = int.from_bytes(data[8:10], "little")
    names = data[32:start]
    # Field names take the first 11 of every 32 bytes of the header.
    words = [names[i : i + 11].split(b"\0")[0] for i in range(0, len(names) - 1, 32)]
    return b"".join(words) + b" " + data[start:]
