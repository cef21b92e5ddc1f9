"""Seeded faults in every kind of cut file: each judged first, then handed to the replay, without a digest in the
way.

    attack.py --count 10000 --seed 1 [--jobs gang,router] [--out FOLDER]

Writes a table by kind of fault and one by kind of file, and the faults that got through, each with the spoilt
file beside it. Ends with status 1 if any that matters got through.
"""

from __future__ import annotations

import json
import pathlib
import random
import shutil
import subprocess
import sys
import time
from collections import Counter, defaultdict

import dxf_faults
import gcode_faults
import jobs
from dxf_pairs import SoundDrawing
from judge import Sound
from modes import arguments
from workshop import ROOT

REPLAY = ROOT / "target" / "release" / "examples" / "replay_bytes"
VERDICTS = ("matters", "unlisted", "free", "harmless")


class Replay:
    """The program's replay of one job, asked again and again: tests/examples/replay_bytes.rs."""

    def __init__(self, folder):
        self.folder = folder
        self.start()

    def start(self):
        self.process = subprocess.Popen(
            [str(REPLAY), str(self.folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        first = self.process.stdout.readline()
        assert first, self.process.stderr.read()
        self.files = json.loads(first)["files"]

    def faults(self, name, text):
        """What the replay says of a file's bytes, a character for each."""
        self.process.stdin.write(json.dumps({"file": name, "text": text}) + "\n")
        self.process.stdin.flush()
        answer = self.process.stdout.readline()
        if not answer:
            # It died: a fault of the program itself.
            status = self.process.wait()
            said = self.process.stderr.read()
            self.start()
            return [{"rule": "died", "line": None, "text": f"status {status}: {said[-500:]}"}]
        answer = json.loads(answer)
        assert "error" not in answer, answer
        return answer["faults"]

    def close(self):
        self.process.stdin.close()
        self.process.wait()


class Attack:
    def __init__(self, folders, out=None, log=None):
        """folders: {job: folder}."""
        self.files = [f for job, folder in folders.items() for f in jobs.cut_files(job, folder)]
        self.folders, self.out = folders, out
        self.sound, self.replays, self.known = {}, {}, {}
        self.log = log or (lambda text: None)
        # (kind of fault, kind of file) -> {verdict: [tried, refused]}
        self.tally = defaultdict(lambda: {v: [0, 0] for v in VERDICTS})
        self.why, self.misses, self.strict = Counter(), [], []

    def of(self, file):
        key = (file.job, file.name)
        if key not in self.sound:
            text = file.text
            self.known[key] = text
            self.sound[key] = Sound(text, file.bench) if file.bench else SoundDrawing(text)
            replay = self.replay(file.job)
            assert file.name in replay.files, file.name
            faults = replay.faults(file.name, text)
            assert not faults, f"a sound file is refused: {file.job} {file.name}: {faults}"
        return self.known[key], self.sound[key]

    def replay(self, job):
        if job not in self.replays:
            self.replays[job] = Replay(self.folders[job])
        return self.replays[job]

    def pool(self):
        """Files by what faults suit them: programs that cut, air runs (one in fourteen), drawings."""
        cut = [f for f in self.files if f.bench and not f.bench.air_run]
        air = [f for f in self.files if f.bench and f.bench.air_run]
        return cut, air, [f for f in self.files if not f.bench]

    def run(self, count, seed):
        """Tries `count` faults, kinds in turn."""
        rnd = random.Random(seed)
        cut, air, drawn = self.pool()
        kinds = [(k, False) for k in gcode_faults.FAULTS] + [(k, True) for k in dxf_faults.FAULTS if drawn]
        rnd.shuffle(kinds)
        # Every file of a job has its share, and every job.
        by_job = lambda files: [fs for fs in _grouped(files).values()]  # noqa: E731
        pools = {False: by_job(cut), True: by_job(drawn)}
        done, n, idle = 0, 0, 0
        began = time.monotonic()
        while done < count and idle < 20 * len(kinds):
            kind, drawing = kinds[n % len(kinds)]
            n += 1
            if not drawing and air and rnd.random() < 1 / 14:
                file = rnd.choice(air)
            else:
                file = rnd.choice(rnd.choice(pools[drawing]))
            if not self.one(file, kind, rnd):
                idle += 1
                continue
            idle = 0
            done += 1
            if done % 500 == 0:
                self.log(f"{done} faults, {time.monotonic() - began:.0f} s, {len(self.misses)} got through")
        for replay in self.replays.values():
            replay.close()
        return done

    def one(self, file, kind, rnd):
        text, sound = self.of(file)
        spoil = gcode_faults.spoilt if file.bench else dxf_faults.spoilt
        bad = spoil(text, kind, rnd, file.bench)
        if bad is None:
            return False
        verdict = sound.verdict(bad)
        faults = self.replay(file.job).faults(file.name, bad)
        cell = self.tally[kind, file.kind][verdict.kind]
        cell[0] += 1
        cell[1] += bool(faults)
        died = any(f["rule"] == "died" for f in faults)
        self.why.update(verdict.why if verdict.kind == "matters" else [])
        entry = dict(kind=kind, verdict=verdict.kind, why=verdict.why, job=file.job, file=file.name,
                     change=difference(text, bad), faults=faults[:2])  # fmt: skip
        if died or (not faults and verdict.kind in ("matters", "unlisted")):
            self.misses.append(entry)
            if self.out:
                (self.out / f"miss-{len(self.misses):04}{pathlib.Path(file.name).suffix}").write_bytes(bad.encode("latin-1"))
        elif faults and verdict.kind == "harmless":
            self.strict.append(entry)
        return True

    def table(self, by):
        """Rows by kind of fault (by=0) or of file (by=1)."""
        rows = defaultdict(lambda: {v: [0, 0] for v in VERDICTS})
        for key, cells in self.tally.items():
            for v in VERDICTS:
                for i in (0, 1):
                    rows[key[by]][v][i] += cells[v][i]
                    rows["all"][v][i] += cells[v][i]
        head = f"{'kind':26}{'tried':>7}{'matter':>8}{'refused':>8}{'missed':>8}{'unlisted':>9}{'let pass':>9}{'free':>6}{'harmless':>9}{'over-strict':>12}"
        lines = [head]
        for name in sorted(rows, key=lambda k: (k == "all", k)):
            c = rows[name]
            m, u, f, h = (c[v] for v in VERDICTS)
            tried = sum(c[v][0] for v in VERDICTS)
            lines.append(f"{name:26}{tried:7}{m[0]:8}{m[1]:8}{m[0] - m[1]:8}{u[0]:9}{u[0] - u[1]:9}{f[0]:6}{h[0]:9}{h[1]:12}")
        return "\n".join(lines)


def _grouped(files):
    found = defaultdict(list)
    for file in files:
        found[file.job].append(file)
    return found


def difference(a, b):
    """Where two texts part, a few lines of each."""
    a, b = a.split("\n"), b.split("\n")
    first = next((i for i, (x, y) in enumerate(zip(a, b)) if x != y), min(len(a), len(b)))
    most = min(len(a), len(b)) - first
    last = next((i for i in range(most) if a[-1 - i] != b[-1 - i]), most)
    return dict(line=first + 1, was=a[first : len(a) - last][:6], now=b[first : len(b) - last][:6])


def main(words=None):
    args = arguments(__doc__, "attack", 10_000, words, jobs=jobs.JOBS)
    out = args.out
    out.mkdir(parents=True, exist_ok=True)
    for old in out.glob("miss-*"):
        old.unlink()
    work = out / "jobs"
    if work.exists():
        shutil.rmtree(work)
    log = lambda text: print(text, file=sys.stderr, flush=True)  # noqa: E731
    folders = jobs.build(args.jobs.split(","), work)
    attack = Attack(folders, out, log)
    try:
        attack.run(args.count, args.seed)
    except KeyboardInterrupt:
        log("interrupted: what was tried so far")
    done = sum(c[v][0] for c in attack.tally.values() for v in VERDICTS)
    tables = [attack.table(0), attack.table(1), "in which ways the faults that matter do:"]
    tables += [f"{n:7} {why}" for why, n in attack.why.most_common()]
    report = "\n\n".join(tables[:2]) + "\n\n" + "\n".join(tables[2:]) + "\n"
    (out / "table.txt").write_text(report)
    for name, entries in (("misses", attack.misses), ("over-strict", attack.strict)):
        (out / f"{name}.jsonl").write_text("".join(json.dumps(e) + "\n" for e in entries))
    print(report)
    print(f"{done} faults, seed {args.seed}; {len(attack.misses)} got through, {len(attack.strict)} harmless were refused; lists in {out}")
    return 1 if attack.misses or attack.strict else 0


if __name__ == "__main__":
    sys.exit(main())
