"""Runs of `make` cut off at random moments, by signals and by the system: the folder is whole or untouched after
each, and nothing else is left behind.

    kills.py --count 500 --seed 1 [--out FOLDER]

Ways: SIGKILL, SIGTERM, SIGINT; too little memory (RLIMIT_AS), files too large (RLIMIT_FSIZE), a full disk (a tiny
tmpfs, where it may be mounted), folders that may not be written (without root's rights, where they can be dropped).
After each the next `make` must come out well.
"""

from __future__ import annotations

import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter

from modes import arguments
from runs import run
from workshop import PROGRAM, fixture_path, write_job

NOBODY = 65534


def whole(folder):
    """Every file of a folder with its bytes; None where there is no folder."""
    if not folder.is_dir():
        return None
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


class Bench:
    """Two panels, the bytes of their jobs, and a folder that they are made in by turns."""

    def __init__(self, work):
        self.work = work
        self.panels, self.jobs = {}, {}
        for name, panel in (("one", {"ground.columns": 3}), ("two", {"ground.columns": 4, "quantity": 2})):
            path = write_job(work / name, "plain-window", panel={"name": f"panel {name}", **panel})
            began = time.monotonic()
            done = run("make", path, "--out", work / f"{name}-sound")
            self.seconds = time.monotonic() - began
            assert done.status == 0, done.err
            self.panels[name], self.jobs[name] = path, whole(work / f"{name}-sound")

    def limits(self, way, rnd):
        """(function run in the child, what it is) of a fault of the system."""
        if way == "memory":
            size = rnd.randint(20, 90) << 20
            return lambda: resource.setrlimit(resource.RLIMIT_AS, (size, size)), f"{size >> 20} MB of address space"
        if way == "file-size":
            size = rnd.choice([0, 1, 100, 1000, 4096, 20_000, 60_000, 100_000, rnd.randrange(200_000)])
            return lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (size, size)), f"files of {size} bytes at most"
        if way == "files-open":
            count = rnd.randint(3, 12)
            return lambda: resource.setrlimit(resource.RLIMIT_NOFILE, (count, count)), f"{count} open files"
        if way == "no-rights":
            return lambda: (os.setgroups([]), os.setgid(NOBODY), os.setuid(NOBODY)), "a folder that may not be written"
        return lambda: None, ""


def attempt(bench, place, way, rnd):
    """One run cut off. Gives (what was done, fault or None)."""
    out = place / "out"
    before_name = rnd.choice([None, "one", "two"])
    name = rnd.choice(["one", "two"])
    shutil.rmtree(out, ignore_errors=True)
    if before_name:
        shutil.copytree(bench.work / f"{before_name}-sound", out)
    for stray in place.iterdir():
        if stray.name != "out":
            (shutil.rmtree if stray.is_dir() else os.unlink)(stray)
    limit, what = bench.limits(way, rnd)
    program = PROGRAM
    if way == "no-rights":
        os.chmod(place, 0o755)
        program = bench.work / "lapwright"
    process = subprocess.Popen(
        [str(program), "make", str(bench.panels[name]), "--out", str(out)], stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, preexec_fn=limit,
    )  # fmt: skip
    if way in ("SIGKILL", "SIGTERM", "SIGINT"):
        # Half of the kills late, where files are written and folders change names.
        moment = rnd.choice([rnd.uniform(0, 1.1), rnd.uniform(0.6, 1.0)]) * bench.seconds
        what = f"{way} after {moment * 1000:.0f} ms"
        try:
            process.wait(moment)
        except subprocess.TimeoutExpired:
            process.send_signal(getattr(signal, way))
    _, err = process.communicate(timeout=120)
    err = err.decode("utf-8", "replace")
    state = process.returncode
    case = f"{name} over {before_name}, {what}, ended by {state}"
    if "panicked" in err:
        return case, f"panicked: {err[-300:]}"
    killed = way.startswith("SIG")
    if not killed and state < 0 and not (way == "memory" and state == -signal.SIGABRT):
        return case, f"the system's refusal ended it by signal {-state}"
    after = whole(out)
    allowed = [bench.jobs[before_name] if before_name else None]
    if state == 0 or killed:
        allowed.append(bench.jobs[name])
    if state == 0 and after != bench.jobs[name]:
        return case, "status 0, and the folder is not the job"
    # An old folder moved aside is put back by the next run (a system without an exchanging rename).
    aside = whole(place / ".out.lapwright-old")
    # All is done but that the old folder cannot be cleared away: it says so, and the next run clears it.
    uncleared = state == 3 and "is in place, but" in err and after == bench.jobs[name]
    if uncleared:
        allowed.append(after)
    if state != 0 and not killed and after == bench.jobs[name] and after not in allowed:
        return case, f"status {state}, and the new folder is in place: {err[-300:]}"
    if after not in allowed and not (killed and after is None and aside in allowed):
        return case, f"the folder is neither the old nor the new one: {sorted(after or {})[:5]}"
    if not killed and not uncleared:
        left = sorted(p.name for p in place.iterdir() if p.name != "out")
        if left:
            return case, f"left behind: {left}"
        if state and not err.strip():
            return case, "refused without a word"
    again = run("make", bench.panels[name], "--out", out)
    if again.status != 0 or whole(out) != bench.jobs[name]:
        return case, f"the next make: status {again.status}: {again.err[-300:]}"
    left = sorted(p.name for p in place.iterdir() if p.name != "out")
    if left:
        return case, f"left behind by the next make: {left}"
    return case, None


def tmpfs(folder, size):
    folder.mkdir(exist_ok=True)
    words = ["mount", "-t", "tmpfs", "-o", f"size={size}", "lapwright-test", str(folder)]
    try:
        return subprocess.run(words, capture_output=True, check=False).returncode == 0
    except FileNotFoundError:
        return False


def full_disk(bench, rnd):
    """A disk that is too small for the job, or for old and new together."""
    place = bench.work / "disk"
    size = f"{rnd.randint(8, 700)}k"
    if not tmpfs(place, size):
        return None
    try:
        before_name = rnd.choice([None, "one"])
        if before_name:
            try:
                shutil.copytree(bench.work / "one-sound", place / "out")
            except (OSError, shutil.Error):
                return f"{size}: the old folder alone fills it", None
        before = whole(place / "out")
        done = run("make", bench.panels["two"], "--out", place / "out")
        case = f"two over {before_name} on a disk of {size}, status {done.status}"
        fault = done.sound((0, 3))
        if fault:
            return case, f"{fault}: {done.err[-300:]}"
        after = whole(place / "out")
        left = sorted(p.name for p in place.iterdir() if p.name != "out")
        if after != (bench.jobs["two"] if done.status == 0 else before):
            return case, "the folder is neither the old nor the new one"
        return case, f"left behind: {left}" if left else None
    finally:
        subprocess.run(["umount", str(place)], check=True)


def main(words=None):
    args = arguments(__doc__, "kills", 500, words)
    shutil.rmtree(args.out, ignore_errors=True)
    args.out.mkdir(parents=True)
    bench = Bench(args.out)
    place = args.out / "place"
    place.mkdir()
    ways = ["SIGKILL", "SIGKILL", "SIGTERM", "SIGINT", "memory", "file-size", "files-open", "full-disk"]
    if os.geteuid() == 0:
        # Others must reach program and panels, which may lie below a folder that they may not enter.
        shutil.copy(PROGRAM, bench.work / "lapwright")
        ways.append("no-rights")
    rnd = random.Random(args.seed)
    tried, faults, skipped = Counter(), [], Counter()
    for n in range(args.count):
        way = ways[n % len(ways)]
        if way == "full-disk":
            found = full_disk(bench, rnd)
            if found is None:
                skipped[way] += 1
                continue
        else:
            found = attempt(bench, place, way, rnd)
        tried[way] += 1
        if found[1]:
            faults.append((way, *found))
            print(f"{way}: {found[0]}: {found[1]}", file=sys.stderr, flush=True)
    for way in dict.fromkeys(ways):
        bad = sum(f[0] == way for f in faults)
        print(f"{way:12}{tried[way]:6} tried{bad:6} faults{f'{skipped[way]:6} skipped: no tmpfs may be mounted here' if skipped[way] else ''}")
    print(f"all         {sum(tried.values()):6} tried{len(faults):6} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
