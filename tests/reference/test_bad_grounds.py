"""Grounds and outlines that cannot be: the message, the line it points at, status 2, nothing written."""

import math

import pytest

from refusals import refused, write_edited
from workshop import call, roomy, said, write_job

FREE, SQUARE, DIAMOND, EIGHT = "new-free", "new-square", "new-diamond", "new-eight-point"
# Lines of the fixture: the sides of the outline, and the bars of the families.
BOTTOM = '{ x = 0, y = 0, rule = "centres" }'
RIGHT = '{ x = 160, y = 0, rule = "centres" }'
TOP = '{ x = 130.5, y = 120, rule = "centres" }'
LEFT = '{ x = 29.5, y = 120, rule = "centres" }'
POSTS = "offsets = [30, 50, 110, 130]"
FIRST, PITCH = "first = 20 ", "pitch = 40 "
LEVEL = "direction = 0 "


def side(x, y, rule='rule = "centres"'):
    return f"{{ x = {x}, y = {y}, {rule} }}"


# id: (fixture, [(old, new)], words of the message); the first edit is the line it points at.
CASES = {
    # Families.
    "one-bar-in-another": (
        FREE, [("[[ground.family]]", "[[ground.family]]"), (LEVEL, "direction = 90 "),
               (FIRST, "first = 30.9 ")],
        ["post", "beam", "0.900", "apart"]),
    "one-bar-in-another-turned-round": (
        FREE, [("[[ground.family]]", "[[ground.family]]"), (LEVEL, "direction = -90 "),
               (FIRST, "first = 28.6 ")],
        ["post", "beam", "apart"]),
    "offsets-out-of-order": (
        FREE, [(POSTS, "offsets = [30, 110, 50, 130]")], ["50", "110", "least to the greatest"]),
    "offset-twice": (FREE, [(POSTS, "offsets = [30, 50, 50, 130]")], ["50", "once"]),
    "no-offsets": (FREE, [(POSTS, "offsets = []")], ["offsets", "0 numbers"]),
    "offset-that-is-none": (FREE, [(POSTS, "offsets = [30, nan]")], ["offsets", "not a number"]),
    "offset-without-unit": (FREE, [(POSTS, 'offsets = [30, "50"]')], ["unit", '"50 mm"']),
    "offsets-too-close": (
        FREE, [(POSTS, "offsets = [30, 31.4, 110]")], ["post", "1.400", "1.500"]),
    "pitch-too-small": (FREE, [(PITCH, "pitch = 1.4 ")], ["beam", "1.400", "1.500"]),
    "offsets-and-pitch": (
        FREE, [(FIRST, "first = 20 "), (PITCH, "offsets = [20, 60]\npitch = 40 ")],
        ["first", "pitch", "offsets", "2 faults"]),
    "no-bars": (
        FREE, [("[[ground.family]]                     # another family",
                "[[ground.family]] # this one"),
               (PITCH, "# pitch = 40 ")],
        ["pitch", "missing"]),
    "direction-beyond-a-turn": (FREE, [(LEVEL, "direction = 180.1 ")], ["direction", "180"]),
    "nearly-parallel": (
        FREE, [("[[ground.family]]", "[[ground.family]]"), (LEVEL, "direction = 94.9 ")],
        ["post", "beam", "4.900 degrees", "5 degrees apart"]),
    "nearly-parallel-turned-round": (
        FREE, [("[[ground.family]]", "[[ground.family]]"), (LEVEL, "direction = -90.000000001 ")],
        ["post", "beam", "5 degrees apart"]),
    "name-twice": (FREE, [('name = "beam"', 'name = "post"')], ["post", "name of its own"]),
    "rank-twice": (FREE, [("rank = 2", "rank = 1")], ["rank 1", "twice"]),
    "face-for-all": (
        FREE, [('layout = "free"', 'face = 3\nlayout = "free"')], ["face", "ground.family"]),
    # Keys of another layout.
    "width-of-a-square": (
        SQUARE, [("columns = 4", "width = 100\ncolumns = 4")], ["width", "square"]),
    "family-in-a-square": (
        SQUARE, [("[outline]", '[[ground.family]]\nname = "x"\n[outline]')], ["family", "free"]),
    "steps-without-corners": (
        SQUARE, [("overhang = 0", "in_steps = true\noverhang = 0")], ["in_steps", "side"]),
    "angle-too-flat": (DIAMOND, [("angle = 40", "angle = 4.9")], ["angle", "5 to 85"]),
    "angle-too-steep": (DIAMOND, [("angle = 40", "angle = 85.1")], ["angle", "5 to 85"]),
    "no-angle": (DIAMOND, [("[ground]", "[ground] "), ("angle = 40", "# 40")], ["angle", "missing"]),
    "rank-of-no-family": (
        DIAMOND, [("falling = 2 }", "level = 2 }")], ["falling", "level", "rising, falling"]),
    "corner-joint-of-eight": (
        EIGHT, [("columns = 4", "corner_joint = true\ncolumns = 4")], ["corner_joint"]),
    "columns-beside-sides": (
        DIAMOND,
        [("columns = 6", "columns = 6 "), ('left = "centres"  ', f"side = [{BOTTOM}, {RIGHT}, {TOP}] #"),
         ('right = "centres"', ""), ('bottom = "centres"', ""), ('top = "centres"', "")],
        ["columns", "rows", "sides"]),
    # Outlines.
    "not-convex": (FREE, [(TOP, side(80, 10))], ["not convex", "side 3", "-58.2"]),
    "straight-corner": (FREE, [(RIGHT, f"{side(80, 0)},\n  {RIGHT}")], ["not convex", "side 2"]),
    "clockwise": (
        FREE, [("side = [", "side = ["), (RIGHT, "R"), (LEFT, RIGHT), ("R,", LEFT + ",")],
        ["clockwise", "counter-clockwise"]),
    "star": (
        FREE, [("side = [", "side = ["), (BOTTOM, side(0, 50)), (RIGHT, side(100, 50)),
               (TOP, side(20, 110)), (LEFT, f"{side(50, 0)}, {side(80, 110)}")],
        ["cross"]),
    "no-length": (FREE, [(BOTTOM, side(160, 0))], ["side 1", "no length"]),
    "no-length-round-the-end": (FREE, [(LEFT, side(0, 0))], ["side 4", "no length"]),
    "two-sides": (
        FREE, [("side = [", "side = ["), (TOP + ",", ""), (LEFT + ",", "")], ["2 sides", "three"]),
    "no-sides": (
        FREE, [("side = [", "side = ["), *((s + ",", "") for s in (BOTTOM, RIGHT, TOP, LEFT))],
        ["side", "empty"]),
    "no-corner": (FREE, [(RIGHT, '{ x = 160, rule = "centres" }')], ["`y`", "missing"]),
    "corner-that-is-none": (FREE, [(RIGHT, side("nan", 0))], ["`x`", "not a number"]),
    "corner-far-off": (FREE, [(RIGHT, side(10000.1, 0))], ["`x`", "10000"]),
    "no-rule": (FREE, [(RIGHT, "{ x = 160, y = 0 }")], ["rule", "missing", "clear"]),
    "rule-and-clear": (
        FREE, [(RIGHT, side(160, 0, 'rule = "centres", clear = 9'))], ["`rule` or `clear`"]),
    "unknown-rule": (FREE, [(RIGHT, side(160, 0, 'rule = "centre"'))], ["centre", '"centres"']),
    "clear-by-nothing": (FREE, [(RIGHT, side(160, 0, "clear = 0"))], ["clear", "more than 0"]),
    "left-beside-sides": (FREE, [("overhang = 12", 'left = "centres"\noverhang = 12')], ["left"]),
    # Sides whose rules cannot hold.
    "along-a-bar": (
        FREE, [(BOTTOM, side(0, 20)), (RIGHT, side(160, 20))],
        ["side 1 of the outline", "beam", "inner-edge", "clear"]),
    "along-a-bar-by-its-clear": (FREE, [(BOTTOM, side(0, 0, "clear = 20"))], ["side 1", "beam"]),
    "rips-a-bar": (
        FREE, [(BOTTOM, side(0, 19.3)), (RIGHT, side(160, 19.3))], ["side 1", "rip", "0.750"]),
    "moved-past-the-others": (
        FREE, [(TOP, side(130.5, 120, "clear = 310"))], ["leave nothing of side 3"]),
    "misses-a-family": (
        FREE, [("[outline]", "[outline] "), (POSTS, "offsets = [-90]")], ["misses", "post"]),
    "square-misses-its-uprights": (
        SQUARE, [("[outline]", "[outline] "), ("columns = 4", "columns = 1"),
                 ("left = { clear = 9 }", 'left = "inner-edge"'),
                 ("right = { clear = 9 }", 'right = "inner-edge"')],
        ["misses", "upright"]),
}  # fmt: skip


@pytest.mark.parametrize("verb", ["check", "make"])
@pytest.mark.parametrize("case", CASES)
def test_bad_grounds(case, verb, tmp_path):
    base, edits, says = CASES[case]
    panel, place = write_edited(tmp_path / "in", base, {"panel": edits})
    words = [verb, panel] + (["--out", tmp_path / "out"] if verb == "make" else [])
    done = refused(tmp_path, *words, status=2, says=[f"{place}:", "error", "^", *says])
    if case in ("no-length", "no-length-round-the-end", "name-twice", "rank-twice"):
        assert done.stderr.count("error") == 1, f"one fault, told once: {said(done)}"


@pytest.mark.parametrize("base", [FREE, SQUARE, DIAMOND, EIGHT])
def test_the_edited_fixtures_are_sound_without_edits(base, tmp_path):
    panel, _ = write_edited(tmp_path, base, {})
    done = call("check", panel)
    assert done.returncode == 0, said(done)


def edge_up(folder, ground, outline):
    changes = {
        "ground": {"depth": 12, "face": 4, **ground}, "outline": outline, "sticks": None,
        "cut": {"method": "edge-up"}, "surround": None,
    }  # fmt: skip
    return write_job(folder, "check", **roomy(changes))


def hexagon(rule, by=0.0, in_steps=True, pitch=60):
    """Two pitches a side, along the bars of a three-way ground; one corner moved up by so much."""
    corners = [(0, 1), (2, 0), (4, 1), (4, 3), (2, 4), (0, 3)]
    step = (pitch * 3**0.5 / 2, pitch)
    if not in_steps:
        corners = [(round(x * step[0], 3), round(y * step[1], 3)) for x, y in corners]
    up = by / pitch if in_steps else by
    return {
        "in_steps": in_steps,
        "side": [{"x": x, "y": y + (up if i == 1 else 0), **rule} for i, (x, y) in enumerate(corners)],
    }


THREE_WAY = {"layout": "three-way", "pitch": 60, "corner_joint": True}


def test_a_hexagon_along_its_bars_wants_the_inner_edge(tmp_path):
    for i, in_steps in enumerate((True, False)):
        at_edge = hexagon({"rule": "inner-edge"}, in_steps=in_steps)
        done = call("check", edge_up(tmp_path / f"a{i}", THREE_WAY, at_edge))
        assert done.returncode == 0, said(done)
        centres = edge_up(tmp_path / f"b{i}", THREE_WAY, hexagon({"rule": "centres"}, in_steps=in_steps))
        says = [f"side {n} of the outline" for n in range(1, 7)] + ["inner-edge", "6 faults"]
        refused(tmp_path, "check", centres, status=2, says=says)


@pytest.mark.parametrize("in_steps", [True, False])
@pytest.mark.parametrize("by", [0.5, -0.5, 0.05, -9.0])
def test_a_corner_off_its_bar_is_told(by, in_steps, tmp_path):
    """A corner some tenths of a millimetre off leaves two sides that run along no bar. Inside, half a face
    off every bar, that is another outline; through the centres it would rip two bars nearly lengthwise."""
    path = edge_up(tmp_path / "a", THREE_WAY, hexagon({"rule": "centres"}, by, in_steps))
    says = [f"side {n} of the outline runs along" for n in (3, 4, 5, 6)]
    done = refused(tmp_path, "check", path, status=2, says=says)
    assert "side 1 of" not in done.stderr and "side 2 of" not in done.stderr, said(done)
    off = hexagon({"rule": "inner-edge"}, by, in_steps)
    if abs(by) < 1:
        done = call("check", edge_up(tmp_path / "b", THREE_WAY, off))
        assert done.returncode == 0, said(done)
    off["side"][0]["rule"] = off["side"][1]["rule"] = "centres"
    path = edge_up(tmp_path / "c", THREE_WAY, off)
    if by < 0:
        says = [f"side {n} of the outline would rip a bar" for n in (1, 2)]
        refused(tmp_path, "check", path, status=2, says=says)
    else:
        # The bars' centre lines lie outside: no bar is there to rip.
        done = call("check", path)
        assert done.returncode == 0, said(done)


@pytest.mark.parametrize(("degrees", "status"), [(4.9, 2), (5.1, 0), (0.1, 2)])
def test_a_side_within_five_degrees_of_a_bar_rips_it(degrees, status, tmp_path):
    """Common practice, no source. Uprights 40 apart; the right side leans over the third."""
    ground = {"layout": "square", "pitch_across": 40, "pitch_up": 60}
    lean = 180 * math.tan(math.radians(degrees))
    corners = [(-15, -15), (80, -15), (80 - lean, 165), (-15, 165)]
    sides = [{"x": x, "y": y, "rule": "centres"} for x, y in corners]
    # Crosses the third upright half-way up.
    for i in (1, 2):
        sides[i]["x"] += lean / 2
    path = edge_up(tmp_path, ground, {"side": sides})
    if status:
        refused(tmp_path, "check", path, status=2, says=["side 2 of", "rip", "upright"])
    else:
        done = call("check", path)
        assert done.returncode == 0, said(done)


@pytest.mark.parametrize(("columns", "says"), [(1, "empty"), (2, "misses")])
def test_inner_edges_on_a_panel_too_small(columns, says, tmp_path):
    """Columns of 3 mm under bars of 4: half a face inside on both sides leaves nothing, or no bar."""
    ground = {"layout": "diamond", "pitch": 6, "angle": 60, "columns": columns, "rows": 2}
    sides = dict.fromkeys(("left", "right", "bottom", "top"), "inner-edge")
    path = edge_up(tmp_path, ground, sides)
    refused(tmp_path, "check", path, status=2, says=["outline", says, "^"])


@pytest.mark.parametrize(("kept", "status"), [(11.9, 1), (12.1, 0)])
def test_a_bar_that_is_a_crumb_once_trimmed(kept, status, tmp_path):
    """An overhang makes a bar long enough to cut, not long enough to keep: a side that far past a joint
    on the bottom side leaves a corner with so much of a bar at 30 degrees (trigonometry)."""
    ground = {"layout": "diamond", "pitch": 60, "angle": 30, "columns": 4, "rows": 4}
    sides = dict.fromkeys(("left", "right", "bottom", "top"), "centres")
    sides["left"] = {"clear": (60 + kept) * math.cos(math.radians(30))}
    path = edge_up(tmp_path / "in", ground, {**sides, "overhang": 30})
    if status:
        says = ["short-member", "11.9 mm", "at least 12 mm"]
        refused(tmp_path, "check", path, status=1, says=says)
    else:
        done = call("check", path)
        assert done.returncode == 0, said(done)


def test_bars_in_one_direction_hold_nothing(tmp_path):
    """Parallel families alone: bars that cross none fall out."""
    edits = [("direction = 0 ", "direction = 90 "), ("first = 20 ", "first = 40 ")]
    panel, _ = write_edited(tmp_path / "in", FREE, {"panel": edits})
    refused(tmp_path, "check", panel, status=1, says=["member-held", "0 joints"])
