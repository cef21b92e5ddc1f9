"""Noise in every file that the program reads: no panic, no signal, an exit status of the guide, time and memory
bounded.

    fuzz.py --count 10000 --seed 1 [--kinds panel,post] [--out FOLDER]

Kinds: panel, machine, material, stock, post, pattern through `make`; job through `prove` and `read-coupon` (a
job.json); gcode and dxf through the replay (tests/examples/replay_bytes.rs). The count is of each kind. What fails
is kept.
"""

from __future__ import annotations

import random
import re
import shutil
import sys
import time
from collections import Counter

import attack
import dxf_faults
import gcode_faults
import jobs
from modes import arguments
from runs import run
from workshop import FOLDERS, call, fixture_path, make, said, write_job

KINDS = ["panel", "machine", "material", "stock", "post", "pattern", "job", "gcode", "dxf"]
# Far above what any input within its limits needs.
SECONDS, MEGABYTES = 20, 1500
NUMBERS = [
    "0", "-1", "1", "2", "0.0001", "-0.0", "1e300", "1e-300", "nan", "inf", "-inf", "99999", "1e9", "100000000000000000000", "0x7fffffff",
    "9223372036854775807", "-9223372036854775808", "0.1", "3.0000000001", "1_000", "1979-05-27", "true", "[]", "{}", '""', '"1 3/8 in"', '"1/0 in"',
    '"0 mm"', '"-1 in"', '"1e400 mm"', "[1, 2, 3, 4]", '"\\u0000"',
]  # fmt: skip
TEXTS = [
    "", "\\u202e", "é" * 60, "x" * 3000, "../../etc/passwd", "/dev/zero", "a\\nb", "%n%s", "{{ x }}", "{% for i in range(10) %}", "(", ")", ";",
    "card-1.5", "demo", ".toml", "panel.toml", "\\u0000", "CON", "'", "\\\"",
]  # fmt: skip
TEMPLATES = [
    "{{ 'x' * 1000000000 }}", "{% for i in range(100000) %}{% for j in range(100000) %}x{% endfor %}{% endfor %}", "{{ " + "(" * 8000 + "1" + ")" * 8000 + " }}",
    "{{ " + "[" * 8000 + "]" * 8000 + " }}", "{{ " + "-" * 20000 + "1 }}", "{{ 1" + "+1" * 9000 + " }}", "{{ not " * 3 + "1 }}", "{{ x.y.z }}", "{{ x",
    "{% set a = [1] %}" + "{% set a = a + a %}" * 40, "{% set a = 'xx' %}" + "{% set a = a ~ a %}" * 40, "{% macro m() %}{{ m() }}{% endmacro %}{{ m() }}",
    "{% if x %}" * 3000, "{{ x | upper | lower | replace('a', 'b') }}", "{% include 'a' %}", "{{ range(1000000000) | list }}", "{{ '%s' % 1 }}",
    "{% block a %}{% endblock %}", "{{ x[0:1000000000] }}", "{% raw %}{{ x }}{% endraw %}", "G0 X{{ x }} Y{{ y }}", "{{ debug() }}", "{{ [1] * 1000000000 }}",
]  # fmt: skip


def noise(rnd, length):
    sets = [bytes(range(256)), b"[]{}=.,\"'\n\r\t #-+_0123456789abcdefinx\\u", b"\xff\xfe\x00\xef\xbb\xbf\xc3\xa9", b"[ground]\nname=pitch.\"'#5 "]
    chosen = rnd.choice(sets)
    return bytes(rnd.choice(chosen) for _ in range(length))


def spoil_bytes(data, rnd, others):
    """One fault of form: bits, bytes, stretches, pieces of other files."""
    data = bytearray(data)
    at = rnd.randrange(len(data) + 1)
    way = rnd.randrange(8)
    if way == 0 and data:
        data[at % len(data)] ^= 1 << rnd.randrange(8)
    elif way == 1 and data:
        data[at % len(data)] = rnd.choice(b"0123456789.-e\"'[]{}=\n#(),:")
    elif way == 2:
        del data[at : at + rnd.choice([1, 1, 5, 50, 500])]
    elif way == 3:
        del data[at:]
    elif way == 4:
        other = rnd.choice(others)
        start = rnd.randrange(len(other))
        data[at:at] = other[start : start + rnd.randint(1, 80)]
    elif way == 5:
        end = min(len(data), at + rnd.randint(1, 60))
        data[at:at] = data[at:end] * rnd.choice([1, 1, 20, 1000])
    elif way == 6:
        data[at:at] = noise(rnd, rnd.randint(1, 30))
    else:
        deep = rnd.choice([100, 5000, 200_000])
        data[at:at] = rnd.choice([b"[", b"{", b"(", b"a.", b"{a=", b"[[", b"\"", b"#", b"\n", b"9"]) * deep
    return bytes(data)


def spoil_lines(data, rnd):
    """One fault of sense in a TOML file: a value, a key, a line."""
    lines = data.decode("utf-8", "replace").split("\n")
    places = [n for n, line in enumerate(lines) if "=" in line.split("#")[0]]
    if not places:
        return data
    n = rnd.choice(places)
    way = rnd.randrange(7)
    if way == 0:
        key = lines[n].partition("=")[0]
        lines[n] = f"{key}= {rnd.choice(NUMBERS)}"
    elif way == 1:
        numbers = list(re.finditer(r"-?\d+(\.\d+)?", lines[n]))
        if numbers:
            m = rnd.choice(numbers)
            new = rnd.choice([rnd.choice(NUMBERS), f"{float(m[0]) * rnd.choice([-1, 0.001, 0.1, 0.5, 1.01, 2, 10, 1000]):.6g}"])
            lines[n] = lines[n][: m.start()] + new + lines[n][m.end() :]
    elif way == 2:
        lines[n] = f'{lines[n].partition("=")[0]}= "{rnd.choice(TEXTS)}"'
    elif way == 3:
        del lines[n]
    elif way == 4:
        lines.insert(rnd.randrange(len(lines)), lines[n])
    elif way == 5:
        m = rnd.choice(places)
        lines[n], lines[m] = lines[m], lines[n]
    else:
        a, b = lines[n].partition("=")[0], lines[rnd.choice(places)].partition("=")[2]
        lines[n] = f"{a}={b}"
    return "\n".join(lines).encode()


def spoil_template(data, rnd):
    """A template of a dialect replaced by one that asks too much."""
    lines = data.decode().split("\n")
    places = [n for n, line in enumerate(lines) if re.match(r"(begin|end|start_head|stop_head|beam_on|beam_off|travel|raise|plunge|line|arc_cw|arc_ccw|remark)\b", line) and '"""' not in line]
    if not places:
        return data
    n = rnd.choice(places)
    key = lines[n].partition("=")[0]
    text = rnd.choice(TEMPLATES)
    if rnd.random() < 0.3:
        text = rnd.choice(["G0 X{{ x }} ", ""]) + text + rnd.choice(TEMPLATES)
    lines[n] = f"{key}= '''{text}'''"
    return "\n".join(lines).encode()


class Source:
    """Noise in one of the files that a panel names, through `make`."""

    def __init__(self, kind, work):
        self.kind, self.work = kind, work
        self.others = [p.read_bytes() for folder in FOLDERS.values() for p in sorted(folder.glob("*.toml"))]
        self.bases = []
        folder = "post_processor" if kind == "post" else kind
        small = {"ground.columns": 2, "ground.rows": 2}
        for n, base in enumerate(["plain-window", "router-square", "check", "new-diamond"]):
            path = write_job(work / f"{n}", base, panel={} if base == "check" else small)
            if kind == "panel":
                self.bases.append((path, path))
            elif kind == "pattern":
                continue
            else:
                # The fixture itself, comments and all, in place of the plain data.
                name = re.search(rf'{folder} = "(.*?)"', fixture_path("panel", base).read_text())[1]
                file = path.parent / f"{folder}.toml"
                file.write_bytes(fixture_path(folder, name).read_bytes())
                self.bases.append((path, file))
        if kind == "pattern":
            for n, pattern in enumerate(["hemp-leaf", "variant-hemp-leaf"]):
                table = {"infill.face": 1.5, "infill.pattern": "pattern.toml", "infill.least_length": 0.1}
                path = write_job(work / f"p{n}", "three-way-card", panel={**table, "ground.columns": 3, "ground.rows": 2})
                file = path.parent / "pattern.toml"
                file.write_bytes(fixture_path("pattern", pattern).read_bytes())
                self.bases.append((path, file))
        self.sound = {file: file.read_bytes() for _, file in self.bases}

    def one(self, rnd):
        panel, file = rnd.choice(self.bases)
        data = self.sound[file]
        # Mostly one slip of sense, for what is no TOML is refused before anything is asked of it.
        ways = [lambda d: spoil_bytes(d, rnd, self.others), *[lambda d: spoil_lines(d, rnd)] * 4]
        if self.kind == "post":
            ways += [lambda d: spoil_template(d, rnd)] * 5
        for _ in range(rnd.choice([1, 1, 1, 2, 4])):
            data = rnd.choice(ways)(data)
        if rnd.random() < 0.02:
            data = noise(rnd, rnd.choice([0, 10, 400, 70_000]))
        out = self.work / "out"
        file.write_bytes(data)
        try:
            done = run("make", panel, "--out", out, seconds=SECONDS, address=6 << 30)
        finally:
            file.write_bytes(self.sound[file])
        fault = done.sound((0, 1, 2))
        if done.memory > MEGABYTES:
            fault = f"{done.memory} MB"
        if done.status == 1 and "the proof failed" in done.err:
            fault = "checks passed and the proof failed"
        if done.status and out.exists():
            fault = "refused, and a folder is there"
        shutil.rmtree(out, ignore_errors=True)
        return data, fault, done.status, done.err[-600:], done.cpu, done.memory

    def close(self):
        pass


class JobJson:
    """Noise in a job.json, through `prove` and `read-coupon`."""

    def __init__(self, work):
        self.folders = [make(write_job(work / "in", "plain-window", panel={"ground.columns": 2, "ground.rows": 2}), work / "job")]
        done = call("coupon", fixture_path("panel", "plain-window"), "--out", work / "coupon")
        assert done.returncode == 0, said(done)
        self.folders.append(work / "coupon")
        self.sound = {f: (f / "job.json").read_bytes() for f in self.folders}

    def one(self, rnd):
        folder = rnd.choice(self.folders)
        data = self.sound[folder]
        for _ in range(rnd.choice([1, 1, 3])):
            data = spoil_bytes(data, rnd, list(self.sound.values()))
        if rnd.random() < 0.3:
            numbers = list(re.finditer(rb"-?\d+(\.\d+)?", self.sound[folder]))
            m = rnd.choice(numbers)
            data = self.sound[folder][: m.start()] + rnd.choice(NUMBERS).encode() + self.sound[folder][m.end() :]
        (folder / "job.json").write_bytes(data)
        words = rnd.choice([["prove", folder], ["read-coupon", folder, "--notch", "3"]])
        try:
            done = run(*words, seconds=SECONDS, address=6 << 30)
        finally:
            (folder / "job.json").write_bytes(self.sound[folder])
        fault = done.sound((0, 1, 2))
        if done.memory > MEGABYTES:
            fault = f"{done.memory} MB"
        if words[0] == "prove" and done.status == 0 and data != self.sound[folder]:
            fault = "a changed job.json is proven"
        return data, fault, done.status, done.err[-600:], done.cpu, done.memory

    def close(self):
        pass


class Bytes:
    """Noise in a cut file, through the replay."""

    def __init__(self, drawing, work):
        self.drawing = drawing
        names = ["laser", "router", "gang-numbered"]
        self.folders = jobs.build(names[:2] if drawing else names, work)
        self.files = [f for job, folder in self.folders.items() for f in jobs.cut_files(job, folder) if (f.bench is None) == drawing]
        self.texts = {(f.job, f.name): f.text for f in self.files}
        self.replays = {job: attack.Replay(folder) for job, folder in self.folders.items()}

    def one(self, rnd):
        file = rnd.choice(self.files)
        text = self.texts[file.job, file.name]
        data = text.encode("latin-1")
        faults = dxf_faults if self.drawing else gcode_faults
        for _ in range(rnd.choice([1, 2, 8])):
            if rnd.random() < 0.5:
                try:
                    spoilt = faults.spoilt(data.decode("latin-1"), rnd.choice(list(faults.FAULTS)), rnd, file.bench, 2)
                except (AssertionError, ArithmeticError, AttributeError, StopIteration, TypeError):
                    # What is spoilt already has no place for this one.
                    spoilt = None
                data = spoilt.encode("latin-1") if spoilt else data
            else:
                data = spoil_bytes(data, rnd, [text.encode("latin-1")])
        if rnd.random() < 0.02:
            data = noise(rnd, rnd.choice([0, 10, 5000, 200_000]))
        began = time.monotonic()
        found = self.replays[file.job].faults(file.name, data.decode("latin-1"))
        spent = time.monotonic() - began
        fault = next((f["text"] for f in found if f["rule"] == "died"), None)
        if spent > SECONDS:
            fault = f"{spent:.0f} s"
        return data, fault, 1 if found else 0, str(found[:1]), spent, 0

    def close(self):
        for replay in self.replays.values():
            replay.close()


def tried(kind, count, seed, work):
    """[(n, data, fault, what was said)] of what failed; statuses; greatest time and memory."""
    work.mkdir(parents=True)
    if kind == "job":
        source = JobJson(work)
    elif kind in ("gcode", "dxf"):
        source = Bytes(kind == "dxf", work)
    else:
        source = Source(kind, work)
    statuses, failed, most = Counter(), [], [0.0, 0]
    for n in range(count):
        rnd = random.Random(f"{kind} {seed} {n}")
        data, fault, status, text, cpu, memory = source.one(rnd)
        statuses[status] += 1
        most = [max(most[0], cpu), max(most[1], memory)]
        if fault:
            failed.append((n, data, fault, text))
    source.close()
    return failed, statuses, most


def main(words=None):
    args = arguments(__doc__, "fuzz", 10_000, words, kinds=KINDS)
    shutil.rmtree(args.out, ignore_errors=True)
    args.out.mkdir(parents=True)
    print(f"{'kind':10}{'tried':>7}{'taken':>7}{'status 1':>9}{'status 2':>9}{'faults':>8}{'s max':>8}{'MB max':>8}")
    bad = 0
    for kind in args.kinds.split(","):
        failed, statuses, most = tried(kind, args.count, args.seed, args.out / kind)
        bad += len(failed)
        print(f"{kind:10}{args.count:7}{statuses[0]:7}{statuses[1]:9}{statuses[2]:9}{len(failed):8}{most[0]:8.2f}{most[1]:8}", flush=True)
        for n, data, fault, text in failed:
            (args.out / f"{kind}-{n}").write_bytes(data)
            print(f"  {kind}-{n}: {fault}: {text[-300:]!r}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
