"""A real PostGIS for the tests: the one that TEST_POSTGIS_URL names, or a private cluster on loopback.

A private cluster is started where Debian's or another PostgreSQL with PostGIS is installed, and stopped at the end.
"""

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

URL_VARIABLE = "TEST_POSTGIS_URL"
_PLACES = (
    "/usr/lib/postgresql/*/bin",
    "/usr/pgsql-*/bin",
    "/usr/local/pgsql/bin",
    "/opt/homebrew/opt/postgresql*/bin",
)


def program(name: str) -> Path | None:
    """Give the path of one of PostgreSQL's programs, the newest installed; None where there is none."""
    found = sorted(path for place in _PLACES for path in Path("/").glob(f"{place[1:]}/{name}"))
    on_path = shutil.which(name)
    return found[-1] if found else Path(on_path) if on_path else None


def why_absent() -> str | None:
    """Give why no PostGIS can be had here, None where one can."""
    if os.environ.get(URL_VARIABLE):
        return None
    initdb = program("initdb")
    if initdb is None:
        return f"no PostgreSQL is installed and {URL_VARIABLE} is not set"
    # `pg_config` may be of another version; the extension's control file lies beside the server's share files.
    version = initdb.parent.parent.name
    shares = (
        Path("/usr/share/postgresql") / version,
        initdb.parent.parent / "share",
        initdb.parent.parent / "share/postgresql",
    )
    if not any((share / "extension" / "postgis.control").is_file() for share in shares):
        return f"PostgreSQL {version} has no PostGIS and {URL_VARIABLE} is not set"
    return None


def free_port() -> int:
    """Give a port of loopback that nobody listens on."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return listener.getsockname()[1]


def _as_server(folder: Path) -> list[str]:
    """Give what to put before a command so that it runs as the server's user: PostgreSQL refuses root."""
    if os.geteuid() != 0:
        return []
    user = pwd.getpwnam("postgres")
    os.chown(folder, user.pw_uid, user.pw_gid)
    return ["setpriv", f"--reuid={user.pw_uid}", f"--regid={user.pw_gid}", "--clear-groups"]


@contextmanager
def cluster() -> Iterator[str]:
    """Give the address of a server's database `postgres`; a private cluster ends with the block."""
    given = os.environ.get(URL_VARIABLE)
    if given:
        yield given
        return
    initdb, pg_ctl = program("initdb"), program("pg_ctl")
    assert initdb is not None and pg_ctl is not None
    # Below pytest's own folder the server's user may not look.
    folder = Path(tempfile.mkdtemp(prefix="fetchwater-postgis-"))
    folder.chmod(0o755)
    before, port, data = _as_server(folder), free_port(), folder / "data"
    options = (
        f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={folder} -c fsync=off "
        "-c max_connections=120"
    )

    def run(*words: str) -> None:
        subprocess.run([*before, *words], check=True, cwd=folder, stdout=subprocess.DEVNULL, timeout=120)

    try:
        run(
            str(initdb),
            "-D",
            str(data),
            "-A",
            "trust",
            "-U",
            "postgres",
            "--no-sync",
            "-E",
            "UTF8",
            "--locale=C.UTF-8",
        )
        run(str(pg_ctl), "-D", str(data), "-w", "-l", str(folder / "log"), "-o", options, "start")
        try:
            yield f"postgresql://postgres@127.0.0.1:{port}/postgres"
        finally:
            run(str(pg_ctl), "-D", str(data), "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
