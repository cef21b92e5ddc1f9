"""Speeds and feeds of edge-up programs, from their own S and F words, against the formulas of handbooks.

Cutting speed v = pi d n / 1000 (m/min; d in mm, n in rev/min) and feed v_f = n z f_z (mm/min; z teeth, f_z mm a
tooth): ISO 3002-1 and ISO 3002-3, basic quantities in cutting, and the tables of any machinery handbook; the
formulas, the numbers of the standards and the worked figures are from memory, worked again here.
"""

import math

import pytest

import rs274
from workshop import call, make, said, sources, summary, write_job

TOOL = {"name": "straight", "diameter": 3.0, "flute_length": 15, "stick_out": 25, "number": 1}
SMALL = {"ground.columns": 3, "ground.rows": 2}


def cutting_speed(diameter, speed):
    """m/min."""
    return math.pi * diameter * speed / 1000


def feed_rate(speed, teeth, chip):
    """mm/min."""
    return speed * teeth * chip


@pytest.mark.parametrize(
    ("diameter", "speed", "metres"),
    # Worked by hand: pi * 10 * 1000 / 1000 = 31.416; pi * 12.7 * 18000 / 1000 = 718.17; pi * 3 * 16000 / 1000
    # = 150.80; the classroom's pi * 100 * 318 / 1000, a hundred metres a minute.
    [(10, 1000, 31.416), (12.7, 18000, 718.17), (3, 16000, 150.80), (100, 318, 99.90)],
)
def test_cutting_speed_worked(diameter, speed, metres):
    assert cutting_speed(diameter, speed) == pytest.approx(metres, abs=0.005)


@pytest.mark.parametrize(
    ("speed", "teeth", "chip", "feed"),
    # Worked by hand: 18000 * 2 * 0.1; 318 * 8 * 0.2; 16000 * 2 * 0.0375.
    [(18000, 2, 0.1, 3600), (318, 8, 0.2, 508.8), (16000, 2, 0.0375, 1200)],
)
def test_feed_worked(speed, teeth, chip, feed):
    assert feed_rate(speed, teeth, chip) == pytest.approx(feed)


def emitted(folder):
    """{file: (speeds, feeds of level cuts, feeds straight down, diameters)} of every program of a job."""
    found = {}
    for setup in summary(folder)["setups"]:
        assert setup["kind"] in ("edge-up", "datum")
        program = rs274.read((folder / setup["file"]).read_text())
        cuts = [m for m in program.moves if m.kind != "rapid"]
        assert all(m.head == "cw" for m in cuts)
        level = {m.feed for m in cuts if m.start[2] == m.end[2]}
        down = {m.feed for m in cuts if m.start[2] != m.end[2]}
        found[setup["file"]] = ({m.speed for m in cuts}, level, down, setup["tool_diameter"])
    return found


# diameter, teeth, rev/min, mm a tooth, straight down: within what the fixtures' machine and wood allow, the
# last two at odd values.
WORKED = [
    (3.0, 2, 16000, 0.0375, 300),
    (3.0, 1, 24000, 0.05, 450),
    (2.37, 3, 11300, 0.0217, 171),
    (3.71, 2, 19700, 0.0591, 588),
]


@pytest.mark.parametrize("unit", ["mm", "inch"])
@pytest.mark.parametrize(("diameter", "teeth", "speed", "chip", "plunge"), WORKED)
def test_programs_keep_chip_load_and_cutting_speed(tmp_path, diameter, teeth, speed, chip, plunge, unit):
    """Every program, those of the datum too: the S word gives the tool's cutting speed, the F word the chip, by the
    machine's tool and no other; the check tells the same chip."""
    feed = feed_rate(speed, teeth, chip)
    path = write_job(
        tmp_path / "in",
        "check",
        panel=SMALL,
        machine={"router.tool": {**TOOL, "flutes": teeth, "diameter": diameter}},
        material={"router.speed_rpm": speed, "router.feed": feed, "router.plunge_feed": plunge,
                  "router.pass_depth": 1.2},
        post_processor={"": f"router-{unit}"},
    )  # fmt: skip
    folder = make(path, tmp_path / "out")
    programs = emitted(folder)
    assert any("datum" in name for name in programs) and any("slots" in name for name in programs)
    # A feed in an inch program steps by a tenth or less of an inch a minute.
    step = 25.4 * 0.06 if unit == "inch" else 0.06
    for name, (speeds, level, down, told) in programs.items():
        assert told == pytest.approx(diameter), name
        [s], [f], [p] = speeds, level, down
        assert s == pytest.approx(speed, abs=0.5)
        metres = cutting_speed(told, s)
        assert metres == pytest.approx(cutting_speed(diameter, speed), rel=1e-4)
        assert f == pytest.approx(feed, abs=step) and p == pytest.approx(plunge, abs=step)
        assert f / (s * teeth) == pytest.approx(chip, abs=step / (s * teeth))
    [check] = [c for c in summary(folder)["checks"] if c["id"] == "chip-load"]
    assert check["value"] == pytest.approx(chip, abs=2e-6) and check["unit"] == "mm"
    low, high = sources(folder)["material"]["router"]["chip_load"]
    assert check["limit"] in (low, high) and low <= chip <= high
    [check] = [c for c in summary(folder)["checks"] if c["id"] == "spindle-speed"]
    assert check["value"] == speed and check["status"] == "pass"


@pytest.mark.parametrize(
    ("name", "material", "status"),
    [
        # 0.02 to 0.06 mm a tooth at 16000 rev/min and two flutes: 640 to 1920 mm/min.
        ("chip-load", {"router.feed": 639.9}, 1),
        ("chip-load", {"router.feed": 640.1}, 0),
        ("chip-load", {"router.feed": 1919.9}, 0),
        ("chip-load", {"router.feed": 1920.1}, 1),
        # 8000 to 24000 rev/min, the chip kept at 0.0375: 2 * 0.0375 * n.
        ("spindle-speed", {"router.speed_rpm": 7999, "router.feed": 599.925}, 1),
        ("spindle-speed", {"router.speed_rpm": 8000, "router.feed": 600.0}, 0),
        ("spindle-speed", {"router.speed_rpm": 24000, "router.feed": 1800.0}, 0),
        ("spindle-speed", {"router.speed_rpm": 24001, "router.feed": 1800.075}, 1),
    ],
)
def test_limits_of_chip_and_speed(tmp_path, name, material, status):
    done = call("check", write_job(tmp_path, "check", panel=SMALL, material=material))
    assert done.returncode == status, said(done)
    if status:
        assert name in done.stderr, said(done)
        other = "spindle-speed" if name == "chip-load" else "chip-load"
        assert other not in done.stderr, said(done)


@pytest.mark.parametrize("milling", ["conventional", "climb"])
def test_the_wall_lies_on_the_side_that_milling_asks_for(tmp_path, milling):
    """Conventional: along a wall, wood on the left of a tool that turns clockwise; climb: on its right
    (common practice, no source). Of the level strokes along a slot the outermost two, on the walls, run with
    the uncut wood on that side. Both faces of a datum are cut last there and back, whatever is asked for, so that
    backlash is the same for both hands (the project's design, section 3)."""
    path = write_job(tmp_path / "in", "check", panel=SMALL, material={"router.milling": milling})
    folder = make(path, tmp_path / "out")
    walls = faces = 0
    for setup in summary(folder)["setups"]:
        program = rs274.read((folder / setup["file"]).read_text())
        t = math.radians(setup["fence"])
        along, right = (math.cos(t), math.sin(t)), (math.sin(t), -math.cos(t))
        strokes = {}
        for m in program.moves:
            if m.kind != "line" or m.start[2] != m.end[2]:
                continue
            (ax, ay), (bx, by) = m.start[:2], m.end[:2]
            way = (bx - ax) * along[0] + (by - ay) * along[1]
            if abs(way) < 0.99 * math.dist((ax, ay), (bx, by)) or abs(way) < 10:
                continue
            aside = ax * right[0] + ay * right[1]
            strokes.setdefault(round(aside, 2), way > 0)
        asides = sorted(strokes)
        if setup["kind"] == "datum":
            lowest = min(m.end[2] for m in program.moves if m.end[2] is not None)
            radius = setup["tool_diameter"] / 2
            ways = [
                (m.end[0] - m.start[0]) * along[0] + (m.end[1] - m.start[1]) * along[1] > 0
                for m in program.moves
                if m.kind == "line" and m.start[2] == m.end[2] == lowest and m.length > 10 and all(
                    abs(x * right[0] + y * right[1] - radius) < 2e-3 for x, y in (m.start[:2], m.end[:2])
                )
            ]  # fmt: skip
            assert sorted(ways) == [False, True]
            faces += 1
            continue
        # Pairs of walls a slot: 4.05 - 3 apart. A mark is cut in one stroke.
        for low, high in zip(asides, asides[1:]):
            if abs(high - low - 1.05) < 0.02:
                assert strokes[low] == (milling == "conventional")
                assert strokes[high] != strokes[low]
                walls += 1
    assert walls > 5 and faces == 2
