"""Rules of RS274/NGC on every program of every panel, read from the bare text.

Source: NISTIR 6556, "The NIST RS274NGC Interpreter, version 3" (2000); section and table numbers are
given from memory. Feeds and speeds: chip load = feed / (speed * flutes) (handbook formula).
"""

import math
import re

import pytest

import odd
import rs274
from workshop import (
    DIALECTS, FLAT_PANELS, call, check, make, millimetres, said, sources, summary, write_job,
)  # fmt: skip

WORD = re.compile(r"([A-Z])([+-]?\d+\.?\d*|[+-]?\.\d+)")
# Table 4, the codes that the dialects use.
GROUPS = {
    "motion": {"G0", "G1", "G2", "G3", "G80"},
    "plane": {"G17", "G18", "G19"},
    "distance": {"G90", "G91"},
    "feed mode": {"G93", "G94"},
    "units": {"G20", "G21"},
    "cutter radius": {"G40", "G41", "G42"},
    "tool length": {"G43", "G49"},
    "coordinate system": {"G54", "G55", "G56", "G57", "G58", "G59"},
    "path": {"G61", "G64"},
    # Not in the table (common practice).
    "arc centres": {"G91.1"},
    "not modal": {"G4", "G10", "G28", "G30", "G53", "G92"},
    "stopping": {"M0", "M1", "M2", "M30", "M60"},
    "tool change": {"M6"},
    "spindle": {"M3", "M4", "M5"},
    "coolant": {"M7", "M8", "M9"},
}
CUTS = {"G1", "G2", "G3"}
OWN_PLACES = {"G28", "G53"}


class Block:
    """A line of a program: its words, and its codes as names."""

    def __init__(self, number, text, inch):
        self.number = number
        self.words = WORD.findall(text.replace(" ", ""))
        self.codes = [f"{a}{float(n):g}" for a, n in self.words if a in "GM"]
        # Lengths and feeds in mm, whatever the program's unit.
        unit = {a: 25.4 if inch else 1.0 for a in "XYZIJF"}
        self.value = {a: float(n) * unit.get(a, 1.0) for a, n in self.words if a not in "GM"}


class Program:
    """A program file with its setup and the files it was made from."""

    def __init__(self, folder, setup):
        self.setup = setup
        self.files = sources(folder, setup["material"])
        self.bytes = (folder / setup["file"]).read_bytes()
        self.text = self.bytes.decode("ascii")
        post = self.files["post_processor"]
        self.inch = post["number"].get("unit") == "inch"
        self.arcs = post["number"].get("arcs", True)
        self.semicolon = post["gcode"].get("remarks") == "semicolon"
        self.wait = 0.001 if post.get("words", {}).get("dwell") == "ms" else 1.0
        self.limit = post["gcode"].get("line_limit", 256)
        # Half a step of the last decimal, mm.
        self.half = 0.5 * (25.4 if self.inch else 1) * 0.1 ** post["number"]["decimals"] + 1e-9
        lines = [(i, t) for i, t in enumerate(self.text.splitlines(), start=1) if t != "%"]
        self.blocks = [Block(i, self.bare(t), self.inch) for i, t in lines]
        self.laser = setup["kind"] == "flat-laser"

    def bare(self, line):
        """A line without its remark."""
        return re.sub(r";.*" if self.semicolon else r"\([^()]*\)", "", line)

    def read(self):
        return rs274.read(self.text, semicolon=self.semicolon)

    def walk(self):
        """(block, motion in force, place before, place after) of every move in the work's frame."""
        motion, at = None, {}
        for block in self.blocks:
            motion = next((c for c in block.codes if c in GROUPS["motion"]), motion)
            if OWN_PLACES & set(block.codes):
                # 3.5.8, 3.5.12: what these move has left the frame.
                at = {}
            elif any(axis in block.value for axis in "XYZ"):
                before = dict(at)
                at.update({a: v for a, v in block.value.items() if a in "XYZ"})
                yield block, motion, before, dict(at)

    def cuts(self):
        return [step for step in self.walk() if step[1] in CUTS]


JOBS = [*FLAT_PANELS, *odd.FLAT, "new-eight-point", "new-free", *DIALECTS]


@pytest.fixture(scope="module", params=JOBS)
def programs(request, panel_file, made):
    flat_job = made(panel_file(request.param))
    found = [Program(flat_job, setup) for setup in summary(flat_job)["setups"]]
    # tests of air runs: test_air_run.py
    named = {p.setup[key] for p in found for key in ("file", "air_run")}
    assert named == {f"gcode/{f.name}" for f in (flat_job / "gcode").iterdir()} and found
    return found


def test_lines_are_what_a_controller_reads(programs):
    """3.3: at most 256 characters, printable; comments closed on their line and not nested."""
    for program in programs:
        assert program.text.endswith("\n") and "\t" not in program.text
        for number, line in enumerate(program.text.splitlines(), start=1):
            assert line and len(line) <= program.limit <= 256, number
            assert all(" " <= c <= "~" for c in line), number
            assert program.semicolon or re.fullmatch(r"([^()]|\([^()]*\))*", line), number
            bare = program.bare(line).replace(" ", "")
            if bare == "%":
                assert number in (1, program.text.count("\n")), number
                continue
            assert re.fullmatch(r"([A-Z][+-]?(\d+\.?\d*|\.\d+))*", bare), f"{number}: {line}"


def test_one_code_of_each_modal_group_in_a_block(programs):
    """3.4, table 4; 3.3.4: other words once a block."""
    for program in programs:
        for block in program.blocks:
            known = set().union(*GROUPS.values())
            assert set(block.codes) <= known, block.number
            for name, group in GROUPS.items():
                assert sum(c in group for c in block.codes) <= 1, (block.number, name)
            letters = [a for a, _ in block.words if a not in "GM"]
            assert len(letters) == len(set(letters)), block.number


def test_modes_are_stated_before_the_first_move(programs):
    """3.5: units, plane, distance and feed mode may be left over from another program."""
    for program in programs:
        first = next(program.walk())[0].number
        said = {c for b in program.blocks if b.number < first for c in b.codes}
        assert {"G20" if program.inch else "G21", "G17", "G90", "G94", "G40", "G49"} <= said


def test_feed_is_set_before_the_first_cut(programs):
    """3.5.2 and 3.7.1: cutting without a feed is an error. Feeds are the material file's."""
    for program in programs:
        cut = program.files["material"]["laser" if program.laser else "router"]
        allowed = {float(cut["feed"])} | (set() if program.laser else {float(cut["plunge_feed"])})
        feed = None
        for block, motion, before, after in program.walk():
            feed = block.value.get("F", feed)
            if motion not in CUTS:
                continue
            assert any(abs(feed - a) <= program.half for a in allowed), (block.number, feed)
            upright = (before.get("X"), before.get("Y")) == (after.get("X"), after.get("Y"))
            if not program.laser and upright:
                most = program.files["machine"]["router"]["plunge_feed"]
                assert feed <= most + program.half, block.number
                assert feed == pytest.approx(cut["plunge_feed"], abs=program.half), block.number
            else:
                assert feed == pytest.approx(cut["feed"], abs=program.half), block.number


def test_arc_radii_agree_after_rounding(programs):
    """3.5.3.2: the distances from start and end to the centre differ by at most 0.002 mm, or 0.0002 inch."""
    arcs = 0
    for program in programs:
        for block, motion, before, after in program.walk():
            if motion not in ("G2", "G3"):
                assert not {"I", "J", "R"} & set(block.value), block.number
                continue
            assert "R" not in block.value and "X" in block.value and "Y" in block.value
            x = before["X"] + block.value["I"]
            y = before["Y"] + block.value["J"]
            first = math.hypot(before["X"] - x, before["Y"] - y)
            last = math.hypot(after["X"] - x, after["Y"] - y)
            assert first > 0 and abs(first - last) <= (0.00508 if program.inch else 0.002), (block.number, first, last)
            arcs += 1
    assert bool(arcs) == program.arcs, "corners are rounded by arcs, where there are any"


def test_a_program_ends_once_and_last(programs):
    """3.6.1: M2 or M30; nothing but remarks after it."""
    for program in programs:
        ends = [b for b in program.blocks if {"M2", "M30"} & set(b.codes)]
        assert len(ends) == 1
        assert all(not b.words for b in program.blocks if b.number > ends[0].number)


def test_spindle_or_beam_runs_in_every_cut_and_in_no_travel(programs):
    """3.6.2: M3 starts it, M5 stops it; a beam is off in travel, both are off at the end."""
    for program in programs:
        running, speed, cuts = False, 0.0, 0
        moves = {b.number: (m, old, new) for b, m, old, new in program.walk()}
        for block in program.blocks:
            speed = block.value.get("S", speed)
            if {"M3", "M4"} & set(block.codes):
                running = True
            if "M5" in block.codes:
                running = False
            motion = moves.get(block.number, (None,))[0]
            if motion in CUTS:
                assert running and speed > 0, block.number
                cuts += 1
            elif motion == "G0" and program.laser:
                assert not running, block.number
        assert cuts and not running


def test_the_spindle_has_time_to_start(programs):
    """G4 P counts seconds (3.5.4), or milliseconds where the dialect says so; the machine file's spin-up, at least 2 s (common practice)."""
    for program in (p for p in programs if not p.laser):
        start = next(b.number for b in program.blocks if "M3" in b.codes)
        first = program.cuts()[0][0].number
        waits = [b.value["P"] * program.wait for b in program.blocks if "G4" in b.codes and start <= b.number < first]
        assert sum(waits) >= max(2, program.files["machine"]["router"]["spin_up_s"])


def test_a_tool_travels_at_the_safe_height_alone(programs):
    """No rapid in the plane below the safe height of the machine file, none with an unknown height."""
    for program in (p for p in programs if not p.laser):
        safe = program.setup["stock"]["max"][2] + program.files["machine"]["router"]["safe_height"]
        for block, motion, before, after in program.walk():
            level = (before.get("X"), before.get("Y")) == (after.get("X"), after.get("Y"))
            if motion == "G0":
                assert after.get("Z") == pytest.approx(safe, abs=program.half), block.number
            elif level:
                assert after["Z"] < safe, block.number
            else:
                assert before["Z"] == after["Z"], f"{block.number}: a sloped cut"


def test_moves_stay_over_the_stock_and_within_travel(programs):
    for program in programs:
        low, high = program.setup["stock"]["min"], program.setup["stock"]["max"]
        travel = program.files["machine"]["travel"]
        (x0, y0), (x1, y1) = program.read().extent()
        assert low[0] <= x0 and low[1] <= y0 and x1 <= high[0] and y1 <= high[1]
        for _, _, _, after in program.walk():
            assert 0 <= after.get("X", 0) <= travel[0] and 0 <= after.get("Y", 0) <= travel[1]


def test_numbers_have_the_decimals_of_the_dialect(programs):
    for program in programs:
        decimals = program.files["post_processor"]["number"]["decimals"]
        for block in program.blocks:
            for letter, number in block.words:
                if letter in "XYZIJ" and not OWN_PLACES & set(block.codes):
                    assert re.fullmatch(rf"-?\d+\.\d{{{decimals}}}", number), (block.number, number)
                assert float(number) != 0 or not number.startswith("-"), (block.number, "-0")


def test_lengths_of_the_summary(programs):
    """cut_mm and travel_mm are what the program does in the plane (arc length r * angle)."""
    for program in programs:
        cut = travel = 0.0
        for move in program.read().moves:
            level = move.start[:2] == move.end[:2] and move.kind != "arc"
            if move.kind == "rapid":
                # The head is taken to stand over the zero before the first move.
                start = [a if a is not None else 0.0 for a in move.start[:2]]
                travel += math.dist(start, [b or 0.0 for b in move.end[:2]])
                if level and None not in (move.start[2], move.end[2]):
                    travel += abs(move.end[2] - move.start[2])
            elif not level:
                cut += move.length
        moves = len(program.blocks)
        assert program.setup["cut_mm"] == pytest.approx(cut, abs=moves * 0.001)
        assert program.setup["travel_mm"] == pytest.approx(travel, abs=moves * 0.001)


@pytest.mark.parametrize(
    "feed, speed, flutes, load",
    # Worked: 1200 / (16000 * 2); 1512 / (18000 * 3); 630 / (12600 * 1).
    [(1200, 16000, 2, 0.0375), (1512, 18000, 3, 0.028), (630, 12600, 1, 0.05)],
)
def test_chip_load(tmp_path, feed, speed, flutes, load):
    path = write_job(
        tmp_path / "in",
        "router-square",
        panel={"ground.columns": 2, "ground.rows": 2},
        machine={"router.tool": {**TOOL, "flutes": flutes}},
        material={"router.feed": feed, "router.speed_rpm": speed},
    )
    folder = make(path, tmp_path / "out")
    job = summary(folder)
    entry = [c for c in job["checks"] if c["id"] == "chip-load"]
    assert entry and all(c["value"] == pytest.approx(load, abs=1e-6) for c in entry)
    for setup in job["setups"]:
        program = Program(folder, setup)
        words = {a: {b.value[a] for b in program.blocks if a in b.value} for a in "FS"}
        assert words["S"] == {speed}
        plunge = sources(folder)["material"]["router"]["plunge_feed"]
        assert words["F"] == {feed, plunge}
        assert feed / (speed * flutes) == pytest.approx(load)


TOOL = {"name": "straight", "diameter": 3.0, "flute_length": 15, "stick_out": 25, "number": 1}


@pytest.mark.parametrize("load, status", [(0.0199, 1), (0.0201, 0), (0.0599, 0), (0.0601, 1)])
def test_chip_load_limits(tmp_path, load, status):
    """The material's range is kept to the last digit: 0.02 to 0.06 mm a tooth."""
    path = write_job(
        tmp_path,
        "router-square",
        panel={"ground.columns": 2, "ground.rows": 2},
        material={"router.feed": load * 16000 * 2, "router.speed_rpm": 16000},
    )
    done = call("check", path)
    assert done.returncode == status, said(done)
    if status:
        assert "chip-load" in done.stderr


def test_power_is_percent_of_the_full_word(tmp_path):
    """S = percent / 100 * the machine's S word for full power."""
    path = write_job(
        tmp_path / "in",
        "plain-window",
        material={"laser.power_percent": 37},
        machine={"laser.full_power_word": 255},
    )
    folder = make(path, tmp_path / "out")
    for setup in summary(folder)["setups"]:
        words = {b.value["S"] for b in Program(folder, setup).blocks if "S" in b.value}
        assert sorted(words) == [pytest.approx(94.35)]
    assert check(path)["setups"][0]["kerf"] == millimetres(sources(folder)["material"]["laser"]["kerf"])
