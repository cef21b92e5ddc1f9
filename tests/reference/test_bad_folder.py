"""A folder that cannot be replaced, files that cannot be read, results that cannot be printed."""

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest

from refusals import refused, snapshot
from workshop import PROGRAM, call, fixture_path, said


def made_into(out, status, tmp_path, says=(), **more):
    panel = fixture_path("panel", "plain-window")
    return refused(tmp_path, "make", panel, "--out", out, status=status, says=says, **more)


def test_dir_is_a_file(tmp_path):
    (tmp_path / "out").write_text("mine")
    made_into(tmp_path / "out", 2, tmp_path, ["out", "folder"])


def test_dir_below_a_file(tmp_path):
    (tmp_path / "file").write_text("mine")
    made_into(tmp_path / "file" / "out", 2, tmp_path, ["file"])


@pytest.mark.parametrize("name", ["mine.txt", "job.json", "gcode/sheet-01.nc", ".hidden"])
def test_dir_is_not_ours(name, tmp_path):
    file = tmp_path / "out" / name
    file.parent.mkdir(parents=True)
    file.write_text("{}")
    made_into(tmp_path / "out", 2, tmp_path, [name])


def test_dir_is_ours_with_a_file_more(tmp_path):
    out = tmp_path / "out"
    assert call("make", fixture_path("panel", "plain-window"), "--out", out).returncode == 0
    (out / "notes").mkdir()
    (out / "notes" / "mine.txt").write_text("first cut went well")
    made_into(out, 2, tmp_path, ["mine.txt"])


def test_dir_is_a_link(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "out").symlink_to(tmp_path / "real")
    made_into(tmp_path / "out", 2, tmp_path, ["out"])


def test_dir_where_no_one_may_write(tmp_path):
    """/proc takes no new folder even from root."""
    made_into("/proc/lapwright-job", 3, tmp_path, ["/proc"])


@pytest.fixture
def anyone(tmp_path):
    """Keywords that run the program without root's rights, from a copy that all may read."""
    if os.geteuid() != 0:
        yield PROGRAM, {}
        return
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    shutil.copy(PROGRAM, folder)
    yield folder / PROGRAM.name, {"user": 65534, "group": 65534, "extra_groups": []}
    shutil.rmtree(folder)


@pytest.mark.parametrize("there", ["nothing", "a job"])
def test_dir_is_read_only(there, anyone):
    program, rights = anyone
    with tempfile.TemporaryDirectory() as name:
        parent = Path(name)
        if there == "a job":
            done = call("make", fixture_path("panel", "plain-window"), "--out", parent / "out")
            assert done.returncode == 0, said(done)
        shutil.copy(fixture_path("panel", "three-way-card"), parent / "panel.toml")
        (parent / "panel.toml").chmod(0o644)
        parent.chmod(0o555)
        before = snapshot(parent)
        done = subprocess.run(
            [program, "make", parent / "panel.toml", "--out", parent / "out"],
            capture_output=True, text=True, timeout=120, cwd="/", **rights,
        )  # fmt: skip
        assert done.returncode == 3 and "out" in done.stderr and not done.stdout, said(done)
        assert snapshot(parent) == before
        parent.chmod(0o755)


def test_a_panel_that_may_not_be_read(anyone):
    program, rights = anyone
    with tempfile.TemporaryDirectory() as name:
        parent = Path(name)
        parent.chmod(0o755)
        panel = shutil.copy(fixture_path("panel", "plain-window"), parent / "panel.toml")
        os.chmod(panel, 0o000)
        done = subprocess.run(
            [program, "check", panel], capture_output=True, text=True, cwd="/", **rights
        )
        assert done.returncode == 3 and "panel.toml" in done.stderr, said(done)


def test_a_full_disk_is_told():
    """/dev/full takes no byte: a result that cannot be printed is no success."""
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [PROGRAM, "check", fixture_path("panel", "plain-window"), "--json"],
            stdout=full, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
    assert done.returncode == 3 and done.stderr, said(done)
