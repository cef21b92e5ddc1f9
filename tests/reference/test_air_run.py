"""Air runs and the room that programs need, read back by rs274.py, which knows the standard alone
(NISTIR 6556; section numbers from memory), and held against the moves of the programs themselves."""

import hashlib
import json
import math
import re
import shutil

import pytest

import odd
import rs274
from workshop import (
    DIALECTS, FLAT_PANELS, NEW_PANELS, call, fixture, make, millimetres, said, sources, summary, write_job,
)  # fmt: skip

JOBS = [*FLAT_PANELS, *NEW_PANELS, "check", *odd.FLAT, *odd.EDGE_UP, *DIALECTS]


class Job:
    """A job's folder with its programs and air runs, read back."""

    def __init__(self, folder):
        self.folder = folder
        self.summary, self.files = summary(folder), sources(folder)
        post = self.files["post_processor"]
        self.inch = post["number"].get("unit") == "inch"
        self.semicolon = post["gcode"].get("remarks") == "semicolon"
        # Half a step of the last decimal, mm.
        self.half = 0.5 * (25.4 if self.inch else 1) * 0.1 ** post["number"]["decimals"] + 1e-6
        # Straight cuts in place of arcs lie outside them by this much.
        self.chord = post["number"].get("chord_mm", 0.0)

    def read(self, path):
        return rs274.read((self.folder / path).read_text(), semicolon=self.semicolon)

    def laser(self):
        return "laser" in self.files["machine"]


@pytest.fixture(scope="module", params=JOBS)
def job(request, panel_file, made):
    return Job(made(panel_file(request.param)))


def extremes(program):
    """Least and greatest x, y and z over all moves of a program, arcs and travel included; z of a laser is
    None. The first move in the plane starts from nowhere known."""
    points = [p for m in program.moves for p in (m.start, m.end)]
    for move in program.moves:
        points += [(*p, None) for p in rs274._quarters(move)]
    axes = [[p[axis] for p in points if p[axis] is not None] for axis in range(3)]
    return [(min(a), max(a)) if a else None for a in axes]


def test_every_setup_names_its_air_run(job):
    setups = job.summary["setups"]
    pairs = {(s["file"], s["air_run"]) for s in setups}
    assert len({a for a, _ in pairs}) == len({b for _, b in pairs}) == len(pairs)
    there = {f"gcode/{f.name}" for f in (job.folder / "gcode").iterdir()}
    assert there == {path for pair in pairs for path in pair}
    listed = {f["path"] for f in job.summary["files"]}
    replayed = {c["where"] for c in job.summary["checks"] if c["id"] == "replay"}
    for _, air in pairs:
        assert re.fullmatch(r"gcode/air-run-.*\.nc", air) and air in listed and air in replayed
    assert not {s["file"] for s in setups} & {s["air_run"] for s in setups}, "no setup of its own"


def test_an_air_run_goes_once_round_the_box_of_its_program(job):
    machine = job.files["machine"]
    # No faster than the machine cuts.
    feed = min(machine["travel_feed"], machine["feed"][1])
    for setup in job.summary["setups"]:
        (x0, x1), (y0, y1), height = extremes(job.read(setup["file"]))
        air = job.read(setup["air_run"])
        moves = air.moves
        assert all(m.head == "off" for m in moves) and air.head_at_end == "off" and not air.changes
        if job.laser():
            assert all(m.end[2] is None for m in moves)
        else:
            # z of the table is the bed: the stock's top and the safe height above it.
            # A datum is milled beside where sticks will lie, which stand higher than its battens.
            top = setup["stock"]["max"][2]
            if setup["kind"] == "datum":
                top = max(top, job.summary["panel"]["depth"])
            safe = top + millimetres(machine["router"]["safe_height"])
            assert moves[0].kind == "rapid" and moves[0].end[:2] == (None, None)
            assert all(abs(m.end[2] - safe) <= job.half for m in moves)
            assert abs(height[1] - safe) <= job.half
            moves = moves[1:]
        assert {m.kind for m in moves} == {"line"}
        assert all(abs(m.feed - feed) < 0.01 for m in moves)
        near = job.half + job.chord + 1e-3 * (job.half > 1e-3)
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0), (0.0, 0.0)]
        assert len(moves) == len(corners)
        for move, corner in zip(moves, corners):
            assert math.dist(move.end[:2], corner) <= 2 * near, (setup["air_run"], move, corner)


def test_nothing_moves_before_the_head_is_off(job):
    for setup in job.summary["setups"]:
        lines = (job.folder / setup["air_run"]).read_text().splitlines()
        mark = ";" if job.semicolon else "("
        bare = [re.sub(r"^N\d+ ", "", line).split(mark)[0].strip() for line in lines]
        first = next(i for i, line in enumerate(bare) if re.search(r"[XYZ]", line))
        assert "M5" in bare[:first]
        assert not any(re.search(r"\b(M[34678]\b|T\d)", line) for line in bare)


def test_the_summary_and_the_remarks_tell_the_box(job):
    unit, step = (25.4, 0.001) if job.inch else (1.0, 0.01)
    for setup in job.summary["setups"]:
        found = [span for span in extremes(job.read(setup["file"])) if span]
        for axis, (low, high) in enumerate(found):
            near = 2 * job.half + job.chord
            assert abs(setup["path"]["min"][axis] - low) <= near
            assert abs(setup["path"]["max"][axis] - high) <= near
        for path in (setup["file"], setup["air_run"]):
            remarks = " ".join(text.strip() for _, text in job.read(path).remarks)
            # A remark may be broken between words.
            told = re.search(r"path of the (?:tool centre|beam), (mm|in) - (.*?) zero needs, \1 - (.*)", remarks)
            assert told, remarks
            assert told[1] == ("in" if job.inch else "mm")
            spans = re.findall(r"([xyz]) (-?[\d.]+) to (-?[\d.]+)", told[2])
            assert [name for name, _, _ in spans] == ["x", "y", "z"][: len(found)]
            for (_, a, b), (low, high) in zip(spans, found):
                # Rounded outward: never less room than the path takes.
                slack = (job.half + job.chord) / unit + 1e-6
                assert low / unit - step - slack <= float(a) <= low / unit + slack
                assert high / unit - slack <= float(b) <= high / unit + step + slack
            needs = re.findall(r"([\d.]+) (?:to its left|to its right|in front|behind|below|above)", told[3])
            wanted = [max(0.0, v) for _, a, b in spans for v in (-float(a), float(b))]
            assert [float(v) for v in needs] == pytest.approx(wanted, abs=1e-9)


def test_a_zero_within_reach_exists(job):
    """The inequalities of the check by themselves: some zero holds every path in the travel and every blank
    on the bed."""
    machine = job.files["machine"]
    travel = [millimetres(v) for v in machine["travel"]]
    groups = [[s] for s in job.summary["setups"]]
    edge = [s for s in job.summary["setups"] if s["kind"] not in ("flat-laser", "flat-router")]
    if edge:
        groups = [edge, *([s] for s in job.summary["setups"] if s not in edge)]
    for group in groups:
        for axis, name in enumerate("xy"):
            allowed = machine.get("zero", {}).get(name, [0, travel[axis]])
            bed = machine.get("bed", {}).get(name, [0, travel[axis]])
            low, high = allowed
            for setup in group:
                low = max(low, -setup["path"]["min"][axis])
                high = min(high, travel[axis] - setup["path"]["max"][axis])
                wood = [setup["stock"], *setup["rails"]] if setup["kind"] in ("edge-up", "flat-laser", "flat-router") else []
                for box in wood:
                    low = max(low, bed[0] - box["min"][axis])
                    high = min(high, bed[1] - box["max"][axis])
            assert low <= high + 1e-6, (name, low, high)
    assert any(c["id"] == "reach" for c in job.summary["checks"])


@pytest.mark.parametrize("name", ["demo", "router-square", "check"])
def test_prove_covers_air_runs(name, panel_file, made, tmp_path):
    """A corner moved in the file, its digest written anew, is still told by name."""
    folder = tmp_path / "job"
    shutil.copytree(made(panel_file(name)), folder)
    assert call("prove", folder).returncode == 0
    path = sorted((folder / "gcode").glob("air-run-*.nc"))[0]
    text = path.read_text()
    changed = re.sub(r"(G1 X-?\d+\.\d\d)(\d)", lambda m: m[1] + str((int(m[2]) + 1) % 10), text, count=1)
    assert changed != text
    path.write_text(changed)
    digest = [hashlib.sha256(t.encode()).hexdigest() for t in (text, changed)]
    job = (folder / "job.json").read_text()
    (folder / "job.json").write_text(job.replace(*digest))
    done = call("prove", folder)
    assert done.returncode == 1 and path.name in done.stderr and "air-box" in done.stderr, said(done)


# What the machine file says of zero and bed, and the end of the axis that lacks: (change, side, passes).
REFUSED = [
    ({"zero": {"x": [200, 300]}}, "to the right", "zero.x"),
    ({"zero": {"y": [0, 5]}}, "in front", "zero.y"),
    ({"bed": {"y": [0, 30]}}, "in between", "a bed"),
    ({"travel": [600, 400, 20]}, "are missing", "a travel"),
]


@pytest.mark.parametrize("change, side, passes", REFUSED)
def test_what_is_told_as_passing_passes(change, side, passes, tmp_path):
    """A zero without room is refused, and the number that the refusal names is one that passes."""
    path = write_job(tmp_path / "in", "check", machine=change)
    done = call("make", path, "--out", tmp_path / "out")
    assert done.returncode == 1 and not (tmp_path / "out").exists(), said(done)
    told = re.search(r"reach: .*; [\d.]+ mm are missing(.*?); (.*?) passes\)", done.stderr)
    assert told and side in told[0] and told[2].startswith(passes), said(done)
    numbers = [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", told[2])]
    (key, value), = change.items()
    if key == "zero":
        (axis,) = value
        mended = {"zero": {axis: numbers[:2]}}
    elif key == "bed":
        mended = {"bed": {"y": [0, numbers[0]]}}
    else:
        mended = {"travel": [600, 400, numbers[0]]}
    path = write_job(tmp_path / "mended", "check", machine=mended)
    done = call("check", path)
    assert done.returncode == 0, said(done)


def test_a_small_zero_rectangle_keeps_flat_work_in_reach(tmp_path):
    """With zero at least 150 from the left, no cut of a sheet lies further right than the rest of the travel."""
    machine = {"zero": {"x": [150, 400], "y": [30, 30]}, "bed": {"x": [0, 900], "y": [0, 500]}}
    folder = make(write_job(tmp_path / "in", "plain-window", machine=machine), tmp_path / "out")
    travel = fixture("machine", "desk-laser")["travel"]
    for setup in summary(folder)["setups"]:
        (_, x1), (_, y1), _ = extremes(rs274.read((folder / setup["file"]).read_text()))
        assert x1 <= travel[0] - 150 and y1 <= travel[1] - 30
    assert json.loads((folder / "job.json").read_text())["checks"]
