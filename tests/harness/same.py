"""Two builds of the program, the same panels: what they write and say is compared byte by byte.

    same.py --old PROGRAM --count 200 --seed 1 [--out FOLDER]

For a change that must not change any job: PROGRAM is a build from before it. Compared are all panel fixtures, their
coupons, sizes for an opening, and random panels: exit status, what is said, and every file. Ends with status 1
where anything differs; both folders are then kept.
"""

from __future__ import annotations

import filecmp
import pathlib
import random
import shutil
import subprocess
import sys

import panels
from modes import arguments
from workshop import PROGRAM, ROOT, write_job

FIXTURES = sorted((ROOT / "fixtures" / "panels").glob("*.toml"))


def calls(folder, count, seed):
    """(name, words) of every run; `OUT` among the words stands for the folder that it makes."""
    for path in FIXTURES:
        yield path.stem, ["make", path, "--out", "OUT"]
        for kind in ("kerf", "fit"):
            yield f"{path.stem}-{kind}", ["coupon", path, "--kind", kind, "--out", "OUT"]
        yield f"{path.stem}-check", ["check", path]
        yield f"{path.stem}-fit", ["fit", path, "--outer", "350x250", "--json"]
    yield "demo", ["demo", "--out", "OUT"]
    for number in range(count):
        rnd = random.Random(seed * 1_000_000 + number)
        _, base, changes = panels.draw(rnd)
        yield f"random-{number}", ["make", write_job(folder / f"in-{number}", base, **changes), "--out", "OUT"]


def ran(program, words, out):
    """Exit status and what was said, with `out` called OUT and the program PROGRAM."""
    words = [str(out) if word == "OUT" else str(word) for word in words]
    done = subprocess.run([str(program), *words], capture_output=True, text=True, timeout=600)
    # Progress follows the clock.
    told = [line for line in done.stderr.splitlines() if not line.endswith(" ...")]
    said = (text.replace(str(out), "OUT").replace(str(program), "PROGRAM") for text in (done.stdout, "\n".join(told)))
    return done.returncode, *said


def differing(a, b):
    """Files that are in one folder only, or hold other bytes."""
    files = [{str(p.relative_to(top)) for p in top.rglob("*") if p.is_file()} for top in (a, b)]
    both = sorted(files[0] & files[1])
    _, other, unread = filecmp.cmpfiles(a, b, both, shallow=False)
    return sorted(files[0] ^ files[1]) + other + unread


def main(words=None):
    args = arguments(__doc__, "same", 200, words, old="")
    old = pathlib.Path(args.old)
    if not old.is_file():
        sys.exit("same: --old names no program")
    shutil.rmtree(args.out, ignore_errors=True)
    args.out.mkdir(parents=True)
    tried = made = files = 0
    faults = []
    for name, words in calls(args.out, args.count, args.seed):
        outs = [args.out / name / side for side in ("old", "new")]
        for out in outs:
            out.parent.mkdir(exist_ok=True)
        before, after = (ran(program, words, out) for program, out in zip((old, PROGRAM), outs))
        tried += 1
        wrong = [what for what, a, b in zip(("status", "output", "errors"), before, after) if a != b]
        if all(out.is_dir() for out in outs):
            made += 1
            files += sum(p.is_file() for p in outs[0].rglob("*"))
            wrong += differing(*outs)
        elif any(out.is_dir() for out in outs):
            wrong.append("one folder only")
        if wrong:
            faults.append(name)
            print(f"{name}: {', '.join(wrong[:8])}", flush=True)
        else:
            shutil.rmtree(args.out / name)
            if name.startswith("random"):
                shutil.rmtree(args.out / name.replace("random", "in"))
    print(f"{tried} runs, {made} folders, {files} files: {len(faults)} differ")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
