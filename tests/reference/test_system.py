"""What the system may do to a run: locks, pipes, full disks, limits of the shell; and what a run leaves."""

import fcntl
import os
import resource
import shutil
import signal
import socket
import stat
import subprocess
import threading
import time

import pytest

from refusals import refused, snapshot
from workshop import PROGRAM, call, fixture_path, said, write_job

PANEL = fixture_path("panel", "plain-window")
# A run that waits for ever is ended after this; the machine may be busy.
SECONDS = 60


@pytest.fixture
def job(tmp_path):
    out = tmp_path / "out"
    assert call("make", PANEL, "--out", out).returncode == 0
    return out


def started(*words):
    return subprocess.Popen(
        [PROGRAM, *map(str, words)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


# Waiting.


def test_a_lock_is_told_and_waited_for(tmp_path):
    lock = os.open(tmp_path, os.O_RDONLY)
    fcntl.flock(lock, fcntl.LOCK_EX)
    run = started("demo", "--out", tmp_path / "out")
    # One that says nothing is ended, so that its line does not come for ever.
    end = threading.Timer(SECONDS / 4, run.kill)
    end.start()
    told = ""
    while "waiting" not in told:
        line = run.stderr.readline()
        assert line, "it ended without a word"
        told += line
    assert str(tmp_path) in told and "30 seconds" in told
    end.cancel()
    assert run.poll() is None and not (tmp_path / "out").exists()
    os.close(lock)
    assert run.wait(SECONDS) == 0
    assert call("prove", tmp_path / "out").returncode == 0


def test_a_wait_has_an_end(tmp_path, job):
    before = snapshot(tmp_path)
    lock = os.open(tmp_path, os.O_RDONLY)
    fcntl.flock(lock, fcntl.LOCK_EX)
    start = time.monotonic()
    done = call("make", PANEL, "--out", job, timeout=120)
    waited = time.monotonic() - start
    os.close(lock)
    assert done.returncode == 3 and not done.stdout, said(done)
    assert waited >= 30 and "30 seconds" in done.stderr and str(tmp_path) in done.stderr, said(done)
    assert snapshot(tmp_path) == before


def test_the_help_names_the_wait():
    assert "after 30" in " ".join(call("--help").stdout.split())


# What is no plain file.


def odd_file(kind, path):
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "socket":
        with socket.socket(socket.AF_UNIX) as s:
            here = os.getcwd()
            os.chdir(path.parent)  # a socket's path is short (POSIX sockaddr_un)
            s.bind(path.name)
            os.chdir(here)
    else:
        path.symlink_to(kind)


ODD = ["pipe", "socket", "/dev/zero"]


@pytest.mark.parametrize("kind", ODD)
@pytest.mark.parametrize("what", ["panel", "machine", "fit", "coupon"])
def test_only_plain_files_are_read(what, kind, tmp_path):
    panel = write_job(tmp_path, "plain-window")
    name = "machine.toml" if what == "machine" else "panel.toml"
    (tmp_path / name).unlink()
    odd_file(kind, tmp_path / name)
    words = {
        "fit": ["fit", panel, "--opening", "200x150"],
        "coupon": ["coupon", panel, "--out", tmp_path / "out"],
    }.get(what, ["make", panel, "--out", tmp_path / "out"])
    done = call(*words, timeout=SECONDS)
    assert done.returncode == 2 and name in done.stderr and "no plain file" in done.stderr, said(done)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("kind", ODD)
def test_no_pipe_is_waited_for_in_a_folder(kind, tmp_path, job):
    """As job.json of a folder that is to be replaced; and in place of any file of one that is proven."""
    for name in ["job.json", "panel.svg", "gcode/plain-window-sheet-01.nc", "source/stock.toml"]:
        (job / name).rename(tmp_path / "kept")
        odd_file(kind, job / name)
        done = call("prove", job, timeout=SECONDS)
        assert done.returncode == 1 and name in done.stderr and not done.stdout, said(done)
        if name == "job.json":
            done = call("demo", "--out", job, timeout=SECONDS)
            assert done.returncode == 2 and not done.stdout, said(done)
        (job / name).unlink()
        (tmp_path / "kept").rename(job / name)
    assert call("prove", job).returncode == 0


def coupon(tmp_path):
    """A kerf coupon, and the maker's own material file that it is read into."""
    panel = write_job(tmp_path / "own", "plain-window")
    done = call("coupon", panel, "--out", tmp_path / "coupon")
    assert done.returncode == 0, said(done)
    return tmp_path / "own" / "material.toml", ["read-coupon", tmp_path / "coupon", "--notch", "10", "--into"]


@pytest.mark.parametrize("kind", ODD)
def test_a_reading_goes_into_a_plain_file(kind, tmp_path):
    material, words = coupon(tmp_path)
    material.unlink()
    odd_file(kind, material)
    done = call(*words, material, timeout=SECONDS)
    assert done.returncode == 2 and "no plain file" in done.stderr, said(done)
    assert not stat.S_ISREG(os.stat(material).st_mode)


# Wrong calls, and folders that hold what they must not.


@pytest.mark.parametrize("verb", ["make", "coupon", "demo"])
def test_wrong_places_are_wrong_calls(verb, tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "lnk").symlink_to("real")
    (tmp_path / "file").write_text("mine")
    panel = [] if verb == "demo" else [PANEL]
    for out in [
        f"{tmp_path}/lnk/", f"{tmp_path}/lnk/.", f"{tmp_path}/lnk//", f"{tmp_path}/file/out",
        f"{tmp_path}/{'x' * 241}", f"{tmp_path}/{'x' * 300}", f"{tmp_path}/{'x' * 300}/out",
        f"{tmp_path}/{'x/' * 3000}out",
    ]:  # fmt: skip
        refused(tmp_path, verb, *panel, "--out", out, status=2)
    done = call(verb, *panel, "--out", tmp_path / ("x" * 240))
    assert done.returncode == 0, said(done)


@pytest.mark.parametrize("words", [["check"], ["prove"], ["fit", "--opening", "200x150"]])
def test_a_name_that_is_too_long_is_a_wrong_call(words, tmp_path):
    for name in ["x" * 300, "x/" * 3000]:
        refused(tmp_path, words[0], tmp_path / name, *words[1:], status=2)


def test_a_job_that_holds_a_link_or_a_folder_too_many_fails_the_proof(tmp_path, job):
    program = job / "gcode" / "plain-window-sheet-01.nc"
    program.rename(tmp_path / "elsewhere")
    program.symlink_to(tmp_path / "elsewhere")
    done = call("prove", job)
    assert done.returncode == 1 and "gcode/plain-window-sheet-01.nc" in done.stderr, said(done)
    assert "panel.svg" not in done.stderr, "the others are told to be sound"
    program.unlink()
    program.mkdir()
    done = call("prove", job)
    assert done.returncode == 1 and "gcode/plain-window-sheet-01.nc" in done.stderr, said(done)


# What is left, and what stays.


@pytest.mark.parametrize("mode", [0o700, 0o750, 0o2775, 0o1777, 0o555])
def test_a_replaced_folder_keeps_its_mode(mode, tmp_path, job):
    job.chmod(mode)
    done = call("make", PANEL, "--out", job)
    assert done.returncode == 0, said(done)
    assert stat.S_IMODE(job.stat().st_mode) == mode
    assert sorted(os.listdir(tmp_path)) == ["out"]


@pytest.mark.parametrize("name", [".out.lapwright-new", ".out.lapwright-old"])
@pytest.mark.parametrize("kind", ["folder", "file", "link"])
@pytest.mark.parametrize("there", [False, True])
def test_what_has_our_passing_name_is_not_deleted(there, kind, name, tmp_path):
    if there:
        assert call("make", PANEL, "--out", tmp_path / "out").returncode == 0
    path = tmp_path / name
    if kind == "folder":
        path.mkdir()
        (path / "thesis.txt").write_text("mine")
    elif kind == "file":
        path.write_text("mine")
    else:
        (tmp_path / "real").mkdir()
        path.symlink_to("real")
    refused(tmp_path, "make", PANEL, "--out", tmp_path / "out", status=2, says=[name])


def test_a_killed_run_is_cleared_by_the_next(tmp_path):
    """A run that is ended while its folder is brought to the disk."""
    for at in ["/panel.svg", "/source/stock.toml", "/gcode"]:
        done = subprocess.run(
            [PROGRAM, "make", PANEL, "--out", tmp_path / "out"], env=synced(tmp_path, kill=at)
        )
        assert done.returncode == -signal.SIGKILL
        left = {".out.lapwright-new"}
        assert {n for n in os.listdir(tmp_path) if "lapwright" in n or n == "out"} == left
        assert call("make", PANEL, "--out", tmp_path / "out").returncode == 0
        assert not (tmp_path / ".out.lapwright-new").exists()
        assert call("prove", tmp_path / "out").returncode == 0
        shutil.rmtree(tmp_path / "out")


def test_a_run_killed_after_the_exchange_is_cleared_by_the_next(tmp_path, job):
    """The old job has the passing name then, and is known by its job.json."""
    env = synced(tmp_path, kill=f"/{tmp_path.name}")
    done = subprocess.run([PROGRAM, "make", PANEL, "--out", job], env=env)
    assert done.returncode == -signal.SIGKILL
    assert (tmp_path / ".out.lapwright-new" / "job.json").exists()
    assert call("prove", job).returncode == 0
    assert call("make", PANEL, "--out", job).returncode == 0
    assert sorted(os.listdir(tmp_path)) == ["out", "shim"]


@pytest.mark.parametrize("name", [".material.toml.lapwright-new", ".material.toml.lapwright-new-1"])
def test_a_reading_deletes_no_neighbour(name, tmp_path):
    material, words = coupon(tmp_path)
    neighbour = material.with_name(name)
    neighbour.write_text("mine")
    done = call(*words, material)
    assert done.returncode == 0, said(done)
    assert neighbour.read_text() == "mine"
    assert sorted(p.name for p in material.parent.iterdir() if p.name.startswith(".")) == [name]


# What reaches the disk. The C library's fsync is taken by a shim (the README asks for a C linker), which notes
# the path, or lets one fail, or ends the run there.

SHIM = r"""
#define _GNU_SOURCE
#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <unistd.h>

static int ends(const char *path, const char *with) {
    size_t n = strlen(path), m = with ? strlen(with) : 0;
    return with && n >= m && strcmp(path + n - m, with) == 0;
}

int fsync(int fd) {
    char name[64], path[4096];
    snprintf(name, sizeof name, "/proc/self/fd/%d", fd);
    ssize_t n = readlink(name, path, sizeof path - 1);
    path[n < 0 ? 0 : n] = 0;
    FILE *log = fopen(getenv("SYNC_LOG"), "a");
    fprintf(log, "%s\n", path);
    fclose(log);
    if (ends(path, getenv("SYNC_KILL"))) raise(SIGKILL);
    if (ends(path, getenv("SYNC_FAIL"))) { errno = EIO; return -1; }
    return syscall(SYS_fsync, fd);
}
"""


def synced(folder, **more):
    """The environment of a run whose calls of fsync are noted in folder/shim/log."""
    shim = folder / "shim"
    if not shim.exists():
        shim.mkdir()
        (shim / "sync.c").write_text(SHIM)
        subprocess.run(
            ["cc", "-shared", "-fPIC", "-o", shim / "sync.so", shim / "sync.c"], check=True
        )
    log = shim / "log"
    log.write_text("")
    extra = {f"SYNC_{key.upper()}": value for key, value in more.items()}
    return {**os.environ, "LD_PRELOAD": str(shim / "sync.so"), "SYNC_LOG": str(log), **extra}


@pytest.mark.parametrize("there", [False, True])
def test_all_of_a_folder_is_on_the_disk_before_it_is_in_place(there, tmp_path):
    out = tmp_path / "out"
    if there:
        assert call("make", PANEL, "--out", out).returncode == 0
    done = call("make", PANEL, "--out", out, env=synced(tmp_path))
    assert done.returncode == 0, said(done)
    log = (tmp_path / "shim" / "log").read_text().splitlines()
    fresh = tmp_path / ".out.lapwright-new"
    # Under its passing name: before the exchange.
    wanted = {str(fresh / p.relative_to(out)) for p in out.rglob("*")} | {str(fresh)}
    assert wanted <= set(log), wanted - set(log)
    assert log[-1] == str(tmp_path), "and then that it is there"


def test_a_reading_is_on_the_disk(tmp_path):
    material, words = coupon(tmp_path)
    done = call(*words, material, env=synced(tmp_path))
    assert done.returncode == 0, said(done)
    log = (tmp_path / "shim" / "log").read_text().splitlines()
    assert len(log) == 2 and ".material.toml" in log[0] and log[1] == str(material.parent), log


@pytest.mark.parametrize("out", ["out", "new/deep/er/out"])
@pytest.mark.parametrize("fail", ["/panel.svg", "/gcode", ".lapwright-new"])
def test_a_disk_that_fails_leaves_nothing(fail, out, tmp_path):
    """Not the folders above either that had to be made."""
    env = synced(tmp_path, fail=fail)
    before = set(os.listdir(tmp_path))
    done = call("make", PANEL, "--out", tmp_path / out, env=env)
    assert done.returncode == 3 and not done.stdout, said(done)
    assert set(os.listdir(tmp_path)) == before


def held(folder):
    return {str(p): p.read_bytes() if p.is_file() else None for p in folder.rglob("*")}


def test_a_full_disk_leaves_the_job_as_it_was(tmp_path):
    """On a file system of 600 kB, which takes one job of the panel and not two."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=600k", "none", disk]
    if subprocess.run(mount, capture_output=True).returncode != 0:
        pytest.skip("no file system of its own can be mounted here")
    try:
        done = call("make", PANEL, "--out", disk / "a" / "out")
        assert done.returncode == 0, said(done)
        (disk / "fill").write_bytes(bytes(os.statvfs(disk).f_bfree * os.statvfs(disk).f_bsize - 65_536))
        for out in ["a/out", "b/c/out"]:
            before = held(disk)
            done = call("make", PANEL, "--out", disk / out)
            assert done.returncode == 3 and "space" in done.stderr and not done.stdout, said(done)
            assert held(disk) == before
        assert call("prove", disk / "a" / "out").returncode == 0
    finally:
        subprocess.run(["umount", disk], check=True)


# The shell's own limit of a file (POSIX RLIMIT_FSIZE): beyond it the system ends a run in the middle of a file.


def small_files():
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))


@pytest.mark.parametrize("out", ["out", "new/deep/out"])
def test_a_limit_of_the_shell_is_told_before_anything_is_written(out, tmp_path):
    done = refused(tmp_path, "make", PANEL, "--out", tmp_path / out, status=3, preexec_fn=small_files)
    assert "ulimit -f" in done.stderr and "4096" in done.stderr, said(done)


def test_a_limit_of_the_shell_holds_for_single_files_too(tmp_path):
    panel = write_job(tmp_path / "own", "plain-window")
    long = panel.read_text() + "# remark\n" * 1000
    panel.write_text(long)
    words = ["fit", panel, "--opening", "200x150", "--write", tmp_path / "own" / "new.toml"]
    refused(tmp_path, *words, status=3, says=["ulimit -f", "new.toml"], preexec_fn=small_files)
    material, words = coupon(tmp_path)
    material.write_text(material.read_text() + "# remark\n" * 1000)
    refused(tmp_path, *words, material, status=3, says=["ulimit -f"], preexec_fn=small_files)


def test_a_result_that_the_shell_lets_no_file_hold_is_told(tmp_path):
    with open(tmp_path / "result", "w") as result:
        done = subprocess.run(
            [PROGRAM, "check", PANEL, "--json"],
            stdout=result, stderr=subprocess.PIPE, text=True, preexec_fn=small_files,
        )  # fmt: skip
    assert done.returncode == 3 and "ulimit -f" in done.stderr, said(done)
