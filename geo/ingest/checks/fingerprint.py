"""One number for a region's whole input."""

import hashlib
from pathlib import Path

from geo.ingest.settings import FILE_NAME

SIDECARS = (".shx", ".dbf", ".prj", ".cpg")
CHUNK_BYTES = 1 << 20


def fingerprint(folder: Path, files: list[str]) -> tuple[str, dict[str, str]]:
    """Give the SHA-256 [hex] over region.toml, the named files and the parts that belong to Shapefiles and grids, and
    that of each file by its name.

    Notes: each file goes in by its name, its length and its bytes, in the order of the names.
    """
    digest, each = hashlib.sha256(), {}
    for path in sorted({one for name in [FILE_NAME, *files] for one in _with_sidecars(folder / name)}):
        name, own = path.relative_to(folder).as_posix(), hashlib.sha256()
        digest.update(f"{name}\0{path.stat().st_size}\0".encode())
        with path.open("rb") as stream:
            while chunk := stream.read(CHUNK_BYTES):
                digest.update(chunk)
                own.update(chunk)
        each[name] = own.hexdigest()
    return digest.hexdigest(), each


def _with_sidecars(path: Path) -> list[Path]:
    found = [path] if path.is_file() else []
    if path.suffix.lower() in (".shp", ".asc") and path.parent.is_dir():
        found += [
            one
            for one in path.parent.iterdir()
            if one.stem.lower() == path.stem.lower() and one.suffix.lower() in SIDECARS
        ]
    return found
