"""Private copies of files that come in several pieces: Shapefiles, zip archives, KMZ, GeoPackages. In the worker."""

import shutil
import stat
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

from geo.ingest.files.refusal import Note, Refusal, caution

MAX_ZIP_BYTES = 500 * 1024**2
MAX_ZIP_RATIO = 200
MAX_ZIP_MEMBERS = 200
RATIO_FREE_BYTES = 10 * 1024**2
SHAPEFILE_PARTS = (".shp", ".shx", ".dbf", ".prj", ".cpg")


def _is_part(one: PurePosixPath | Path, main: PurePosixPath | Path) -> bool:
    """True for a part of a Shapefile, whatever the case of its name; the folder is not looked at."""
    return one.stem.lower() == main.stem.lower() and one.suffix.lower() in SHAPEFILE_PARTS


def copy_shapefile(path: Path, scratch: Path) -> Path:
    """Copy a Shapefile's parts under one plain name and give the copy's .shp."""
    # Backwards, so that of two names that differ only in case the first stays.
    for one in sorted(path.parent.iterdir(), reverse=True):
        if _is_part(one, path) and one.is_file():
            shutil.copyfile(one, scratch / f"layer{one.suffix.lower()}")
    if not (scratch / "layer.shp").exists():
        shutil.copyfile(path, scratch / "layer.shp")
    return scratch / "layer.shp"


def copy_database(path: Path, scratch: Path) -> tuple[Path, list[Note]]:
    """Copy a GeoPackage with its journal, so that an unfinished write is rolled back in the copy only."""
    shutil.copyfile(path, scratch / "layer.gpkg")
    faults = []
    for ending in ("-wal", "-journal"):
        beside = path.with_name(path.name + ending)
        if beside.exists() and beside.stat().st_size > 0:
            shutil.copyfile(beside, scratch / f"layer.gpkg{ending}")
            rule = f"the GeoPackage was open elsewhere (a {ending} file lies beside it); a recovered copy was read"
            faults.append(caution(rule, "close the program that has it open, then export again"))
    return scratch / "layer.gpkg", faults


def _check_member(member: zipfile.ZipInfo) -> None:
    name = member.filename.replace("\\", "/")
    if name.startswith("/") or ":" in name or ".." in PurePosixPath(name).parts:
        raise Refusal("a member of the archive points outside it", "pack it again", value=member.filename)
    if stat.S_ISLNK(member.external_attr >> 16):
        raise Refusal("a member of the archive is a link", "pack the real files", value=member.filename)
    if member.flag_bits & 1:
        raise Refusal("the archive is encrypted", "pack it without a password", value=member.filename)


def _check_archive(members: list[zipfile.ZipInfo], packed_bytes: int) -> None:
    if len(members) > MAX_ZIP_MEMBERS:
        rule = f"the archive has more than {MAX_ZIP_MEMBERS} members"
        raise Refusal(rule, "pack one layer only", value=len(members))
    for member in members:
        _check_member(member)
    unpacked = sum(member.file_size for member in members)
    if unpacked > MAX_ZIP_BYTES or (unpacked > RATIO_FREE_BYTES and unpacked > MAX_ZIP_RATIO * packed_bytes):
        limit = f"the limit is {MAX_ZIP_BYTES} and {MAX_ZIP_RATIO} times its size"
        rule = f"the archive unpacks to {unpacked} bytes; {limit}"
        raise Refusal(rule, "pack one layer only", value=unpacked)
    names = [member.filename.lower() for member in members]
    if len(set(names)) != len(names):
        raise Refusal("two members of the archive differ only in case", "remove one of them", "ask")


def _chosen_shapefile(members: list[zipfile.ZipInfo], layer: str | None) -> zipfile.ZipInfo:
    found = [one for one in members if one.filename.lower().endswith(".shp")]
    if layer is not None:
        found = [one for one in found if PurePosixPath(one.filename).stem == layer]
        if not found:
            raise Refusal(
                "the archive holds no Shapefile of that name", "name one that is in it", value=layer
            )
    if not found:
        fix = "pack .shp, .shx, .dbf and .prj, or one doc.kml"
        raise Refusal("the archive holds neither a Shapefile nor KML", fix)
    if len(found) > 1:
        names = ", ".join(PurePosixPath(one.filename).stem for one in found)
        rule = f"the archive holds several Shapefiles: {names}"
        raise Refusal(rule, "name one as layer", "ask", field="layer")
    return found[0]


@contextmanager
def _opened(path: Path) -> Iterator[tuple[zipfile.ZipFile, list[zipfile.ZipInfo]]]:
    """Give an archive and its members, checked; folders and what desktop systems add are left out."""
    try:
        archive = zipfile.ZipFile(path)
    except zipfile.BadZipFile:
        raise Refusal("the archive is damaged or cut short", "pack or send it again") from None
    with archive:
        members = [
            one
            for one in archive.infolist()
            if not one.is_dir()
            and "__macosx" not in one.filename.lower()
            and not PurePosixPath(one.filename).name.startswith(".")
        ]
        _check_archive(members, max(path.stat().st_size, 1))
        yield archive, members


def holds_kml(path: Path) -> bool:
    """Tell whether an archive is a KMZ: it holds KML and no Shapefile. Raises: Refusal as `unpack_shapefile`."""
    with _opened(path) as (_, members):
        endings = {PurePosixPath(one.filename).suffix.lower() for one in members}
    return ".kml" in endings and ".shp" not in endings


def unpack_kmz(path: Path, scratch: Path) -> Path:
    """Unpack the root document of a KMZ: doc.kml, else the only KML in it. Nothing else of it is opened.

    Raises: Refusal as `unpack_shapefile`, and for several KML files without a doc.kml.

    References: OGC 07-147r2 annex C.
    """
    with _opened(path) as (archive, members):
        found = [one for one in members if one.filename.lower().endswith(".kml")]
        root = [one for one in found if one.filename.lower() == "doc.kml"] or found
        if len(root) > 1:
            names = ", ".join(one.filename for one in root)
            rule = f"the KMZ holds several KML files and no doc.kml: {names}"
            raise Refusal(rule, "send one of them alone")
        _unpack_member(archive, root[0], scratch / "doc.kml")
    return scratch / "doc.kml"


def unpack_shapefile(path: Path, scratch: Path, layer: str | None) -> Path:
    """Unpack the one Shapefile of an archive (in any folder, in any case) and give its .shp.

    Raises: Refusal for members that point outside, links, encryption, too many or too large members, no Shapefile,
    and several of them.
    """
    with _opened(path) as (archive, members):
        main = PurePosixPath(_chosen_shapefile(members, layer).filename)
        for member in members:
            part = PurePosixPath(member.filename)
            if part.parent == main.parent and _is_part(part, main):
                _unpack_member(archive, member, scratch / f"layer{part.suffix.lower()}")
    return scratch / "layer.shp"


def _unpack_member(archive: zipfile.ZipFile, member: zipfile.ZipInfo, target: Path) -> None:
    try:
        with archive.open(member) as packed, target.open("wb") as unpacked:
            # The stated size may be a lie: the library never gives more than that, and then finds the sum wrong.
            shutil.copyfileobj(packed, unpacked)
    except (zipfile.BadZipFile, EOFError, NotImplementedError):
        raise Refusal("a member of the archive is damaged", "pack it again", value=member.filename) from None
