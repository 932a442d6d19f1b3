"""docker-compose.yml is whole and holds no secret, and its own commands run for real against a local PostGIS.

No container engine is needed: paths, ports and the database's name are put in as the engine would.
"""

import json
import os
import re
import shutil
import subprocess
import sys
import time
import tomllib
import urllib.request
from pathlib import Path

import pytest
import yaml
from sqlalchemy import make_url

from services.settings import PREFIX, Settings
from tests.services.postgis import free_port
from tests.services.tiny_region import LAKES, write_tiny_region

ROOT = Path(__file__).resolve().parents[2]
BIN = Path(sys.executable).parent
COMPOSE = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
SERVICES = COMPOSE["services"]


def test_every_service_has_what_it_refers_to():
    """Volumes, secrets, services and images that are named are there; what must wait, waits for health."""
    for name, service in SERVICES.items():
        for volume in service["volumes"]:
            source = volume.split(":")[0]
            assert source.startswith("./") or source in COMPOSE["volumes"], f"{name}: {volume}"
        assert set(service["secrets"]) <= set(COMPOSE["secrets"])
        assert service["restart"] == "unless-stopped" and service["mem_limit"]
        for other, how in service.get("depends_on", {}).items():
            assert how == {"condition": "service_healthy"} and "healthcheck" in SERVICES[other]
    assert SERVICES["fetchwater"]["image"] == SERVICES["backup"]["image"]
    scripts = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["scripts"]
    assert SERVICES["fetchwater"]["command"][0] in scripts
    assert all(port.startswith("127.0.0.1:") for port in SERVICES["fetchwater"]["ports"])


def test_no_secret_stands_in_the_file():
    text = (ROOT / "docker-compose.yml").read_text()
    assert not re.search(r"://[^/\s@]*:[^/\s@]*@", text)
    for service in SERVICES.values():
        for key, value in service["environment"].items():
            if re.search("PASSWORD|SECRET|TOKEN|KEY", key):
                assert key.endswith("_FILE") and value.startswith("/run/secrets/")
    assert COMPOSE["secrets"]["store_password"]["file"].startswith("./secrets/")
    assert "secrets/" in (ROOT / ".gitignore").read_text().splitlines()


def test_every_setting_in_it_is_one_of_ours():
    known = {PREFIX + name.upper() for name in Settings.model_fields}
    for name in ("fetchwater", "backup"):
        assert set(SERVICES[name]["environment"]) <= known


def test_what_the_containers_write_is_theirs():
    """The service runs without root on a file system that is read only: its volumes must belong to its user."""
    docker = (ROOT / "Dockerfile").read_text()
    for name in ("fetchwater", "backup"):
        assert SERVICES[name]["read_only"] is True and SERVICES[name]["cap_drop"] == ["ALL"]
        for volume in SERVICES[name]["volumes"]:
            _, target, *mode = volume.split(":")
            assert mode == ["ro"] or re.search(rf"chown fetchwater .*{target}\b", docker), volume


def test_every_folder_that_the_image_writes_to_is_a_volume():
    """On a file system that is read only the kernels' compiler ends the program where its cache cannot be written."""
    set_to = re.search(r"^ENV (.*)$", (ROOT / "Dockerfile").read_text(), re.MULTILINE)[1]
    folders = {word.partition("=")[2] for word in set_to.split() if word.partition("=")[2].startswith("/")}
    assert "/var/cache/fetchwater" in folders and "/data" in folders
    for name in ("fetchwater", "backup"):
        mounted = {volume.split(":")[1] for volume in SERVICES[name]["volumes"]}
        assert folders <= mounted, name


def put_in(text, places):
    """Put in what the engine would: mounted folders, the host of the database, the port."""
    for old, new in places.items():
        text = text.replace(old, new)
    return text.replace("$$", "$")


@pytest.fixture
def places(postgis_server, tmp_path):
    """Paths and addresses of the file, and what stands for them here."""
    (tmp_path / "password").write_text("not asked for on a server that trusts this machine\n")
    for name in ("data", "backups"):
        (tmp_path / name).mkdir()
    write_tiny_region(tmp_path / "region")
    url = make_url(postgis_server.empty())
    return {
        "postgresql://fetchwater@store:5432/fetchwater": url.render_as_string(hide_password=False),
        "/run/secrets/store_password": str(tmp_path / "password"),
        "/region": str(tmp_path / "region"),
        "/data": str(tmp_path / "data"),
        "/backups": str(tmp_path / "backups"),
        "0.0.0.0": "127.0.0.1",
        "8000": str(free_port()),
    }


def environment(name, places, **more):
    given = {key: put_in(value, places) for key, value in SERVICES[name]["environment"].items()}
    return {"PATH": f"{BIN}:{os.environ['PATH']}", "HOME": "/tmp", **given, **more}


def healthy(test, process):
    """Run the file's own health check until it passes."""
    assert test[0] == "CMD"
    for _ in range(240):
        assert process.poll() is None, process.stderr.read()
        if subprocess.run([sys.executable, *test[2:]], capture_output=True, check=False).returncode == 0:
            return True
        time.sleep(0.5)
    return False


def test_the_same_commands_run_against_a_local_postgis(places, tmp_path):
    command = [put_in(word, places) for word in SERVICES["fetchwater"]["command"]]
    check = [put_in(word, places) for word in SERVICES["fetchwater"]["healthcheck"]["test"]]
    env = environment("fetchwater", places)
    address = f"http://127.0.0.1:{places['8000']}"
    with subprocess.Popen(
        [str(BIN / command[0]), *command[1:]], env=env, cwd=tmp_path, stderr=subprocess.PIPE, text=True
    ) as process:
        try:
            assert healthy(check, process)
            question = {"fire": "F1", "wind": "300/18kt", "oat": "24C", "qnh": "1009"}
            request = urllib.request.Request(
                f"{address}/rankings", json.dumps(question).encode(), {"content-type": "application/json"}
            )
            with urllib.request.urlopen(request, timeout=120) as answer:
                ranking = json.load(answer)
            assert {one["body_id"] for one in ranking["sources"]} == set(LAKES)
            with urllib.request.urlopen(f"{address}/rankings/{ranking['ranking_id']}", timeout=60) as answer:
                assert json.load(answer)["question"]["region"] == "Two lakes (invented)"
        finally:
            process.terminate()
    assert not (tmp_path / "data" / "fetchwater.gpkg").exists(), "the embedded file is not used"
    run_backup(places, tmp_path)


def run_backup(places, tmp_path):
    """One turn of the backup's loop: a `sleep` of ours ends it instead of waiting for a day."""
    (tmp_path / "bin").mkdir()
    stop = tmp_path / "bin" / "sleep"
    stop.write_text("#!/bin/sh\nkill $PPID\n")
    stop.chmod(0o755)
    words = [put_in(word, places) for word in SERVICES["backup"]["command"]]
    env = environment("backup", places)
    env["PATH"] = f"{tmp_path / 'bin'}:{env['PATH']}"
    done = subprocess.run(
        [shutil.which(words[0]), *words[1:]],
        env=env,
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )
    (made,) = (tmp_path / "backups").iterdir()
    assert re.fullmatch(r"fetchwater-\d{4}-\d\d-\d\d\.gpkg", made.name), done.stderr
    listing = subprocess.run(
        [sys.executable, "-c", "import sqlite3, sys; print(sqlite3.connect(sys.argv[1]).execute("
         "'SELECT (SELECT count(*) FROM ranking), (SELECT count(*) FROM water_body)').fetchone())", str(made)],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert listing.stdout.strip() == f"(1, {len(LAKES)})"
