"""Datum programs and slot programs of edge-up jobs in one coordinate system, by corner.py: the faces that the machine
mills, the sticks laid against them, and every notch found on every stick within 0.005; and that faults at the
machine or at the bench are seen.

Source of the rules: the project's design, section 3, edge-up.
"""

import math
import re
from dataclasses import replace

import pytest
from shapely.geometry import Polygon, box

import corner
import gangs as bench
import odd
import rs274
from workshop import call, make, said, write_job

# A bench that mills and seats more truly than the built-in machines are said to, longer flutes, and room.
TRUER = {
    "travel": [1250, 800, 120], "router.fence_error_deg": 0.005, "router.square_error_deg": 0.05,
    "router.seating": 0.01, "router.rail_bow": 0.005, "router.clamp_width": 300,
    "router.tool.flute_length": 20, "router.tool.stick_out": 40,
}  # fmt: skip


def odd_values(folder):
    """Pitch 71.3, face 4.37, depth 13.1."""
    panel = {"ground.pitch": 71.3, "ground.face": 4.37, "ground.depth": 13.1, "sticks.limit": 520}
    material = {"thickness": 4.37}
    return write_job(folder, "check", panel=panel, material=material, machine={"travel": [700, 400, 80]})


def odd_pointed(folder):
    """The same with pointed datum ends."""
    panel = {
        "ground.pitch": 71.3, "ground.face": 4.37, "ground.depth": 13.1, "sticks.limit": 520,
        "sticks.datum": "point",
    }  # fmt: skip
    material = {"thickness": 4.37}
    return write_job(folder, "check", panel=panel, material=material, machine={"travel": [700, 400, 80]})


def eight_point(folder):
    """Four bars to a joint, four faces: fences at 45, 90 and 135 degrees."""
    panel = {
        "name": "eight-point on a truer machine", **odd.eight_point(), "cut.clearance": 0.06,
        "sticks": {"lead": 70, "tail": 70, "saw_kerf": 1.5, "limit": 640, "spares": 2},
    }  # fmt: skip
    stock = {"blank": [{"name": "long", "length": 900, "width": 100}]}
    material = {"least_section": 0.5, "least_web": 0}
    return write_job(folder, "check", panel=panel, machine=TRUER, material=material, stock=stock)


JOBS = {
    "check": lambda folder: write_job(folder, "check"),
    "odd-values": odd_values,
    "odd-pointed": odd_pointed,
    "eight-point": eight_point,
}


@pytest.fixture(scope="module")
def benches(tmp_path_factory):
    made = {}

    def get(name):
        if name not in made:
            folder = tmp_path_factory.mktemp(name)
            made[name] = corner.read(make(JOBS[name](folder / "in"), folder / "out"))
        return made[name]

    return get


@pytest.fixture(scope="module", params=JOBS)
def work(request, benches):
    return benches(request.param)


def test_all_of_it_comes_out_right(work):
    """Faces, sticks, holds and air runs of every setup, of which each has one."""
    assert work.faults() == []
    assert all(setup["air_run"] for setup in work.job["setups"])
    fences = {round(d["fence"], 6) for d in work.datums()}
    assert fences == {round(s["fence"], 6) for s in work.edge_ups()} and fences
    assert len(work.datums()) == len(fences), "one program for each fence"


def test_a_job_in_inches_comes_out_right(tmp_path):
    """Programs step by 0.00001 inch: no figure of the bench is a whole number of them."""
    path = write_job(tmp_path / "in", "check", post_processor={"": "router-inch"})
    assert corner.read(make(path, tmp_path / "out")).faults() == []


def test_a_board_is_planed_under_all_that_lies_on_it(tmp_path):
    """By its own program, on request, from the same zero; with a strip of it left out, or too deep, it is told."""
    path = write_job(tmp_path / "in", "check", panel={"sticks.bed": 0.3})
    work = corner.read(make(path, tmp_path / "out"))
    assert work.bed() and work.bed(corner.BED_AIR)
    assert work.faults() == []
    text = work.texts[work.bed()]
    lines = text.splitlines(keepends=True)
    rows = [k for k, line in enumerate(lines) if line.startswith("G1 X")]
    middle = rows[len(rows) // 2]
    short = [*lines[:middle], *lines[middle + 4 :]]
    for wrong in [re.sub(r"Z-0\.3\d*", "Z-0.290", text), "".join(short)]:
        assert wrong != text
        one = corner.spoilt(work)
        one.texts[one.bed()] = wrong
        assert one.bed_faults()


def test_faces_lie_where_the_design_says(work):
    """The rail's in y = 0, the fence's through x = y = 0 in its direction, both walls on one side of the tool."""
    for datum in work.datums():
        one = work.corner(datum)
        rail, fence = one.rail_face(), one.fence_face()
        for along in (0.0, one.along):
            assert abs(rail.at(along)[1]) < 0.005
        assert fence.degrees == pytest.approx(datum["fence"], abs=1e-3)
        # The rail meets the fence obtusely, and its wood lies across the face from the gang.
        ys = [y for r in datum["rails"] for y in (r["min"][1], r["max"][1])]
        assert (min(ys), max(ys)) == ((-30, 0) if datum["fence"] > 90 + 1e-6 else (0, 30))
        # It begins 5 from the origin at least, and clear of what the cutter needs in the corner.
        t, r = math.radians(datum["fence"]), one.radius
        [told] = datum["rails"]
        obtuse = max(t, math.pi - t)
        least = max(5, r / math.tan(obtuse / 2), 2 * r / math.sin(t))
        assert told["min"][0] >= least - 1e-6
        # The fence's end on the rail's side, while it stands proud, is 1 away from the rail.
        behind = box(-500, -500, 500, 0) if one.side > 0 else box(-500, 0, 500, 500)
        assert told["min"][0] >= one.proud_fence.intersection(behind).bounds[2] + 1 - 1e-6
        # The fence's face ends from 2 to 4 past the rail's.
        face = [(x, y) for x, y in one.fence_batten if abs(x * math.sin(t) - y * math.cos(t)) < 1e-4]
        assert len(face) == 2 and 2 - 1e-6 <= max(-one.side * y for _, y in face) <= 4 + 1e-6
        # Battens stand 0.3 lower than the sticks.
        assert told["max"][2] == pytest.approx(work.depth - 0.3)
        # Going towards the fence along the rail, and on along the fence, both walls are on one side of the tool.
        towards = [(a, b) for a, b in finish(one.program) if a[1] == b[1] and b[0] < a[0]]
        on = [(a, b) for a, b in finish(one.program) if a[1] != b[1] and one.side * (b[1] - a[1]) > 10]
        assert towards and on
        for (ax, ay), (bx, by) in towards:
            wall_left = (bx - ax) * (0 - ay) > 0
            assert wall_left == (one.side > 0)
        for (ax, ay), (bx, by) in on:
            # The origin lies on the fence's face.
            wall_left = (bx - ax) * (0 - ay) - (by - ay) * (0 - ax) > 0
            assert wall_left == (one.side > 0)


def finish(program):
    """The last strokes at full depth: there and back over the same corners."""
    low = min(m.end[2] for m in program.moves if m.end[2] is not None)
    found = []
    for m in program.moves:
        if m.kind == "line" and m.start[2] == m.end[2] == low:
            found.append((m.start[:2], m.end[:2]))
    return found


def test_the_last_of_a_datum_is_cut_there_and_back(work):
    """Rough passes leave 0.15; the last one runs along the rail, round the open corner, along the fence and the
    same way back, at full depth, 0.2 below the bed."""
    for datum in work.datums():
        one = work.corner(datum)
        assert one.floor == pytest.approx(-0.2, abs=1e-9)
        strokes = finish(one.program)
        rough = [abs(a[1]) for a, b in strokes if a[1] == b[1] and abs(a[1]) > one.radius + 0.1]
        assert rough and min(rough) == pytest.approx(one.radius + 0.15, abs=1e-3)
        last = [i for i, (a, b) in enumerate(strokes) if a[1] == b[1] and abs(abs(a[1]) - one.radius) < 2e-3]
        first, back = last
        there = strokes[first : (first + back + 1) // 2]
        assert [(b, a) for a, b in reversed(there)] == strokes[first + len(there) : back + 1]


def rail_moves(text, radius, change):
    """A datum program whose strokes along the rail are changed: x, y of their ends go through `change`."""
    lines, count = [], 0
    for line in text.splitlines():
        m = re.fullmatch(r"(.*)X(\S+) Y(\S+)(.*)", line)
        if m and not line.startswith("("):
            x, y = float(m[2]), float(m[3])
            if abs(abs(y) - radius) < 0.2:
                x, y = change(x, y)
                count += 1
                line = f"{m[1]}X{x:.3f} Y{y:.3f}{m[4]}"
        lines.append(line)
    assert count > 5
    return "\n".join(lines) + "\n"


def with_rails(work, change):
    wrong = corner.spoilt(work)
    for datum in work.datums():
        text = work.texts[datum["file"]]
        wrong.texts[datum["file"]] = rail_moves(text, datum["tool_diameter"] / 2, change)
    return wrong


@pytest.mark.parametrize("degrees", [0.02, -0.02])
def test_a_rail_cut_turned_is_seen(benches, degrees):
    """By 0.02 degrees: at its face, and at the far notches of sticks that are laid along it."""
    for name in ("check", "odd-values"):
        work = benches(name)
        for datum in work.datums():
            side = bench.side_of(datum["fence"])
            lean = math.tan(math.radians(degrees))
            wrong = with_rails(work, lambda x, y, lean=lean: (x, y + lean * x))
            one = wrong.corner(next(d for d in wrong.datums() if d["file"] == datum["file"]))
            assert any("rail's face" in f for f in one.faults()), (datum["file"], side)
        for gang in wrong.gangs():
            levels = gang.levels()
            assert bench.faults(gang, levels, 0) and bench.faults(gang, levels, gang.seats - 1)


def test_a_rail_cut_on_the_wrong_side_is_seen(benches):
    """The cutter on the other side of y = 0: what is left of the rail stands a diameter too far back."""
    for name in ("check", "eight-point"):
        work = benches(name)
        wrong = with_rails(work, lambda x, y: (x, -y))
        for datum in wrong.datums():
            assert any("rail" in f for f in wrong.corner(datum).faults())
        for gang in wrong.gangs():
            if abs(gang.fence - 90) > 1 and gang.rail:
                assert bench.faults(gang, gang.levels(), 1)


def test_a_fence_cut_off_its_line_is_seen(benches):
    """By 0.006, or turned by 0.02 degrees about the zero."""
    work = benches("check")
    for datum in work.datums():
        t = math.radians(datum["fence"])

        def off(x, y, t=t):
            return x + 0.006 * math.sin(t), y - 0.006 * math.cos(t)

        def turned(x, y):
            a = math.radians(0.02)
            return x - a * y, y + a * x

        for change in (off, turned):
            wrong = corner.spoilt(work)
            lines = []
            for line in work.texts[datum["file"]].splitlines():
                m = re.fullmatch(r"(G\S+) X(\S+) Y(\S+)(.*)", line)
                if m and abs(abs(float(m[3])) - 1.5) > 0.2:
                    x, y = change(float(m[2]), float(m[3]))
                    line = f"{m[1]} X{x:.4f} Y{y:.4f}{m[4]}"
                lines.append(line)
            wrong.texts[datum["file"]] = "\n".join(lines) + "\n"
            one = wrong.corner(next(d for d in wrong.datums() if d["file"] == datum["file"]))
            assert any("fence's face" in f for f in one.faults())


def test_a_gang_not_reversed_is_seen(work):
    """Laid on the side on which it lay for the other hand, no stick of a skew gang meets its slots; and sticks in
    another order from the rail are told."""
    for gang in work.gangs():
        if abs(gang.fence - 90) > 1:
            wrong = replace(gang, side_laid=-gang.side)
            levels = gang.levels()
            assert all(bench.faults(wrong, levels, i) for i in range(wrong_seats(gang)))
    wrong = corner.spoilt(work)
    setup = wrong.edge_ups()[-1]
    ids = [p["id"] for p in setup["placements"]]
    if len(set(ids)) > 1 and ids != ids[::-1]:
        for p, name in zip(setup["placements"], reversed(ids)):
            p["id"] = name
        assert wrong.misordered()
    wrong = corner.spoilt(work)
    for p in wrong.edge_ups()[-1]["placements"]:
        p["to_setup"][1][3] *= -1
    assert wrong.misordered()


def wrong_seats(gang):
    """The number of seats, by the gang's true side."""
    return bench.Gang(gang.setup, gang.stick, gang.depth, gang.program).seats


def test_the_order_from_the_rail_is_told(benches):
    """At least one job has sticks that differ, so that the check of their order can fail."""
    seen = 0
    for name in JOBS:
        work = benches(name)
        for setup in work.edge_ups():
            ids = [p["id"] for p in setup["placements"]]
            seen += len(set(ids)) > 1 and ids != ids[::-1]
    assert seen


def test_a_hold_in_the_path_is_seen(work):
    """A bar put over the slot next to it; 3 off the middle of its room, along the stick; where its figure would
    put it if it were measured square to the fence; or left out at either end."""
    for number, setup in enumerate(work.edge_ups()):
        gang = corner.Laid(setup, work.stick(setup), work.depth, work.program(setup))
        lows = {}
        assert corner.holds_in_the_way(gang, lows) == []
        t = math.radians(setup["fence"])
        slots = [corner.along_x(gang, n[0]) for n in bench.own_notches(gang)]
        holds = [k for k in setup["keep_out"] if k["what"] == "hold"]
        for which, hold in enumerate(holds):
            low, high = corner.aside(Polygon(hold["corners"]), t)
            middle = (low + high) / 2 / math.sin(t)
            near = min(slots, key=lambda x, middle=middle: abs(x - middle))
            inner = min(slots) < middle < max(slots)
            steps = [near - middle]
            if inner:
                steps += [3.0, -3.0]
                if abs(gang.fence - 90) > 1:
                    steps.append(middle * (1 / math.sin(t) - 1))
            for step in steps:
                wrong = corner.spoilt(work)
                one = wrong.edge_ups()[number]
                moved = [k for k in one["keep_out"] if k["what"] == "hold"][which]
                moved["corners"] = [[x + step, y] for x, y in hold["corners"]]
                assert corner.holds_in_the_way(replace(gang, setup=one), lows), (setup["file"], which, step)
            if which in (0, len(holds) - 1):
                wrong = corner.spoilt(work)
                one = wrong.edge_ups()[number]
                one["keep_out"].remove(hold)
                assert corner.holds_in_the_way(replace(gang, setup=one), lows), (setup["file"], which)


def test_a_zero_without_room_is_seen(work):
    """Where zero may stand moved until the path leaves the travel on each of its four sides in turn."""
    assert work.zero_can_stand()
    x0, x1, y0, y1 = work.room()
    travel = work.machine["travel"]
    anywhere = [[0, travel[0]], [0, travel[1]]]
    for axis, (low, high) in enumerate(((x0, x1), (y0, y1))):
        assert low < 0 < high
        for window, stands in [
            ([0, -low - 0.01], False), ([0, -low], True),
            ([travel[axis] - high, travel[axis]], True), ([travel[axis] - high + 0.01, travel[axis]], False),
        ]:  # fmt: skip
            place = list(anywhere)
            place[axis] = window
            assert work.zero_can_stand(window=place) == stands
        short = list(travel)
        short[axis] = high - low - 0.01
        assert not work.zero_can_stand(travel=short)


SMALL = {"ground.columns": 3, "ground.rows": 2, "sticks.gang": 3, "sticks.limit": 400}


@pytest.mark.parametrize("axis", [0, 1])
def test_a_bed_too_small_for_the_datum_corner_is_refused(axis, tmp_path):
    """0.01 less of travel than all paths take from one zero: other sticks or gangs that fit it, or refused by a check
    with its place and advice, or as an input, before any program is written; never by the proof, which can tell no
    remedy."""
    path = write_job(tmp_path / "in", "check", panel=SMALL)
    one = corner.read(make(path, tmp_path / "out"))
    x0, x1, y0, y1 = one.room()
    need = (x1 - x0, y1 - y0)[axis]
    travel = list(one.machine["travel"])
    travel[axis] = need - 0.01
    done = call("check", write_job(tmp_path / "small", "check", panel=SMALL, machine={"travel": travel}))
    if done.returncode == 0:
        small = write_job(tmp_path / "small", "check", panel=SMALL, machine={"travel": travel})
        x0, x1, y0, y1 = corner.read(make(small, tmp_path / "fits")).room()
        assert (x1 - x0, y1 - y0)[axis] <= travel[axis]
        return
    assert done.returncode in (1, 2), said(done)
    assert "proof" not in done.stderr, said(done)
    assert any(name in done.stderr for name in ("reach", "bench-length", "bench-width", "travel")), said(done)
    assert "what helps" in done.stderr or "help:" in done.stderr, said(done)
    assert "stick" in done.stderr, said(done)


# So wide a bed that stock decides nothing.
WIDE = {"bed.x": [-2000, 3000], "bed.y": [-2000, 3000]}


def test_the_program_refuses_a_zero_without_room(benches, tmp_path):
    """Where zero may stand, moved until the path leaves the travel on each of its four sides in turn: refused by name
    0.01 beyond what the programs themselves take, and not just before it."""
    x0, x1, y0, y1 = benches("check").room()
    travel = benches("check").machine["travel"]
    for axis, key, low, high in ((0, "x", x0, x1), (1, "y", y0, y1)):
        for number, (window, status) in enumerate([
            ([0, -low - 0.01], 1), ([0, -low + 0.001], 0),
            ([travel[axis] - high + 0.01, travel[axis]], 1), ([travel[axis] - high - 0.001, travel[axis]], 0),
        ]):  # fmt: skip
            path = write_job(tmp_path / f"{key}{number}", "check", machine={**WIDE, f"zero.{key}": window})
            done = call("check", path)
            assert done.returncode == status, said(done)
            if status:
                assert "reach: " in done.stderr and "what helps" in done.stderr, said(done)


def test_a_rail_shorter_than_the_sticks_is_refused(benches, tmp_path):
    """Battens on hand as long as the longest rail of the job pass; 0.01 less is refused, by name."""
    work = benches("check")
    setups = work.job["setups"]
    longest = max(r["max"][0] - r["min"][0] for s in setups if s["kind"] == "edge-up" for r in s["rails"])
    assert longest > max(s["length"] for s in work.job["sticks"]) - 10
    for number, (length, status) in enumerate([(longest + 1e-3, 0), (longest - 0.01, 1), (440, 1)]):
        path = write_job(tmp_path / str(number), "check", machine={"router.rail_length": length})
        done = call("check", path)
        assert done.returncode == status, said(done)
        if status:
            assert "rail-length: " in done.stderr and "longer battens" in done.stderr, said(done)


def test_a_gang_turned_as_a_block_is_seen(work):
    """Its sticks then have each other's lead: none but one in the middle meets its slots."""
    seen = 0
    for gang in work.gangs():
        if abs(gang.fence - 90) > 1:
            wrong = replace(gang, block=True)
            levels = gang.levels()
            middle = (gang.seats - 1) / 2
            assert all(bench.faults(wrong, levels, i) for i in range(gang.seats) if i != middle)
            seen += 1
    assert seen


def alike(gang):
    """Whether a stick has the same notches in both edges."""
    swap = {"front": "back", "back": "front"}
    notches = [(n["at"], n["edge"], n["angle"], n["width"], n["depth"]) for n in gang.stick["notches"]]
    return sorted(notches) == sorted((n[0], swap[n[1]], *n[2:]) for n in notches)


def test_a_wrong_edge_up_is_seen(work):
    """Wherever it makes a difference: sticks whose edges are alike have no wrong one."""
    seen = 0
    for gang in work.gangs():
        other = {"front": "back", "back": "front"}[gang.setup["edge_up"]]
        wrong = replace(gang, edge_laid=other)
        levels = gang.levels()
        if alike(gang):
            assert bench.faults(wrong, levels, 1) == []
        else:
            assert all(bench.faults(wrong, levels, i) for i in range(gang.seats))
            seen += 1
    assert seen


def test_square_slots_are_reached_in_plus_x(benches):
    """At 90 degrees, where the gang's side does not change with the hand, every wall is reached in +x, so that
    backlash is the same in each."""
    seen = 0
    for name in JOBS:
        work = benches(name)
        for setup in work.edge_ups(90.0):
            seen += 1
            last = 0.0
            for m in work.program(setup).moves:
                if None in (m.start[0], m.end[0]):
                    continue
                if m.end[0] != m.start[0]:
                    last = m.end[0] - m.start[0]
                elif m.kind == "line" and m.start[1] != m.end[1]:
                    assert last > 0, (setup["file"], m.line)
    assert seen


def slots_in(text):
    """(first line, last line) of each stretch that is cut without rising."""
    lines = text.splitlines()
    starts = [k for k, line in enumerate(lines) if re.match(r"G0 X", line)]
    found = []
    for k in starts:
        end = next(j for j in range(k, len(lines)) if lines[j].startswith("G0 Z"))
        found.append((k, end))
    return found


def test_a_notch_off_by_0_006_is_seen(work):
    """In one slot of a program, along the sticks, either way; nowhere else is anything found. A mark, which has no
    place of its own, is none."""
    for gang in work.gangs():
        text = work.texts[gang.setup["file"]]
        lines = text.splitlines()
        stretches = [
            (a, b) for a, b in slots_in(text) if "(mark)" not in lines[a - 2 : a]
        ]  # fmt: skip
        first, last = stretches[len(stretches) // 2]
        for off in (0.006, -0.006):
            moved = list(lines)
            for k in range(first, last):
                moved[k] = re.sub(r"X(\S+)", lambda m, off=off: f"X{float(m[1]) + off:.4f}", moved[k])
            wrong = replace(gang, program=rs274.read("\n".join(moved) + "\n"))
            levels = wrong.levels()
            for i in (0, gang.seats - 1):
                assert bench.faults(wrong, levels, i), (gang.setup["file"], off, i)


AIR = """G21 G17 G90 G94 G40 G49 G80 G54
M5
G0 Z{safe}
G1 X{x0} Y{y0} F3000
G1 X{x1} Y{y0}
G1 X{x1} Y{y1}
G1 X{x0} Y{y1}
G1 X{x0} Y{y0}
G1 X0.000 Y0.000
M2
"""


def air_run(work, setup, **more):
    xs, ys = zip(*corner.places(work.program(setup)))
    figures = {"safe": "24.000", "x0": min(xs), "x1": max(xs), "y0": min(ys), "y1": max(ys), **more}
    return AIR.format(**figures)


def test_air_runs_are_read(benches):
    """One written by this test passes; with its head on, a corner missed or cut, too low, or ending elsewhere, it
    does not. Those of a job are read with all else of it."""
    work = benches("check")
    for setup in work.job["setups"]:
        program = work.program(setup)
        text = air_run(work, setup)
        assert corner.air_run_faults(program, rs274.read(text), 24.0) == []
        for wrong in [
            text.replace("M5", "M3 S8000"), text.replace("G0 Z24.000", "G0 Z23.000"),
            text.replace("G0 Z24.000\n", "").replace("G1 X0", "G0 Z24.000\nG1 X0"),
            text.replace("X0.000 Y0.000", "X0.000 Y1.000"), air_run(work, setup, x1=300.1),
            text.replace("G1 X0.000", "G0 Z2.000\nG1 X0.000"), text.replace("M2", "G1 X10.000 Y0.000\nM2"),
            re.sub(r"(G1 X\S+ Y\S+)\n(G1 X\S+ Y\S+)\n(G1 X\S+ Y\S+)\n", r"\2\n\1\n\3\n", text, count=1),
        ]:  # fmt: skip
            assert corner.air_run_faults(program, rs274.read(wrong), 24.0), wrong
