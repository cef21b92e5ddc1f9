"""All dialects of one setup cut the same, in the same order, and each is what its file says.

The programs are read by rs274.py, which is written from the standard (NISTIR 6556; section numbers from
memory) and knows nothing of the project's dialects; the regions are shapely's.
"""

import math

import pytest

import rs274
from sweeps import REPLAY, SPECK, paths, swept
from workshop import DIALECTS, call, fixture, make, millimetres, said, sources, summary, write_job

BASE = {"plain-window": "laser-mm", "router-square": "router-mm"}


class Cut:
    """The programs of a job in one dialect."""

    def __init__(self, name, folder):
        self.post = fixture("post_processor", name)
        self.gcode, self.number = self.post["gcode"], self.post["number"]
        self.job = summary(folder)
        self.files = sources(folder)
        self.texts = [(folder / s["file"]).read_text() for s in self.job["setups"]]
        semicolon = self.gcode.get("remarks") == "semicolon"
        wait = self.post.get("words", {}).get("dwell") == "ms"
        self.programs = [rs274.read(text, semicolon=semicolon, milliseconds=wait) for text in self.texts]

    def radius(self):
        if self.post["drives"] == "laser":
            return millimetres(self.files["material"]["laser"]["kerf"]) / 2
        return millimetres(self.files["machine"]["router"]["tool"]["diameter"]) / 2


@pytest.fixture(scope="module")
def cut(panel_file, made):
    """cut(name) -> the job of a dialect."""
    known = {}

    def once(name):
        if name not in known:
            known[name] = Cut(name, made(panel_file(name)))
        return known[name]

    return once


def test_there_are_dialects_of_every_kind():
    posts = [fixture("post_processor", name) for name in DIALECTS]
    assert len(posts) >= 5 and len({p["name"] for p in posts}) == len(posts)
    for base in BASE.values():
        drives = fixture("post_processor", base)["drives"]
        mine = [p for p in posts if p["drives"] == drives]
        assert any(p["number"].get("unit") == "inch" for p in mine)
        assert any(not p["number"].get("arcs", True) for p in mine)
        assert any(p["gcode"].get("remarks") == "semicolon" for p in mine)
        assert any("line_limit" in p["gcode"] for p in mine)
    assert any("line_numbers" in p for p in posts)
    assert any(p["gcode"].get("tool_change") for p in posts)
    assert any(p["gcode"].get("power_follows_speed") for p in posts)


OTHERS = [name for name in DIALECTS if name not in BASE.values()]


@pytest.mark.parametrize("name", OTHERS)
def test_the_order_of_cuts_is_the_same(name, cut):
    """Each stretch cut without a break starts, ends and lies as deep as in the first dialect."""
    here, base = cut(name), cut(BASE[DIALECTS[name]])
    assert len(here.programs) == len(base.programs)
    for one, other in zip(here.programs, base.programs):
        mine, theirs = paths(one), paths(other)
        assert len(mine) == len(theirs) > 5
        for a, b in zip(mine, theirs):
            for p, q in ((a.points[0], b.points[0]), (a.points[-1], b.points[-1])):
                assert math.dist(p, q) <= REPLAY
            assert (a.height is None) == (b.height is None)
            assert a.height is None or abs(a.height - b.height) <= REPLAY


def levels(stretches):
    """Stretches by their height; heights that rounding parts are one."""
    found = []
    for path in stretches:
        near = (g for g in found if path.height is None or abs(g[0].height - path.height) < REPLAY)
        group = next(near, None)
        if group is None:
            found.append(group := [])
        group.append(path)
    return sorted(found, key=lambda g: g[0].height or 0.0)


def differ(one, other):
    """Area of each region beyond 0.005 mm of the other."""
    return sum(a.difference(b.buffer(REPLAY)).area for a, b in ((one, other), (other, one)))


@pytest.mark.parametrize("name", OTHERS)
def test_the_swept_shape_is_the_same(name, cut):
    """At every height, within the rounding of both and the chords: beyond 0.005 mm nothing differs."""
    here, base = cut(name), cut(BASE[DIALECTS[name]])
    radius = here.radius()
    assert radius == base.radius()
    compared = 0
    for one, other in zip(here.programs, base.programs):
        mine, theirs = levels(paths(one)), levels(paths(other))
        assert len(mine) == len(theirs)
        for a, b in zip(mine, theirs):
            shapes = swept(a, radius), swept(b, radius)
            assert shapes[1].area > 1 and differ(*shapes) <= SPECK
            # The comparison has teeth: a shape 0.006 mm wider is told.
            assert differ(shapes[0].buffer(0.006), shapes[1]) > SPECK
            compared += 1
    assert compared


@pytest.mark.parametrize("name", DIALECTS)
def test_a_dialect_is_what_its_file_says(name, cut):
    here = cut(name)
    inch = here.number.get("unit") == "inch"
    laser = here.post["drives"] == "laser"
    numbers = here.post.get("line_numbers")
    for text, program in zip(here.texts, here.programs):
        lines = text.splitlines()
        assert max(map(len, lines)) <= here.gcode.get("line_limit", 256)
        assert (lines[0] == lines[-1] == "%") == here.gcode.get("percent_lines", False)
        assert ("G20 " in text) == inch and ("G21 " in text) != inch
        arcs = [m for m in program.moves if m.kind == "arc"]
        assert bool(arcs) == here.number.get("arcs", True)
        # 3.3.1: every line has its number, they rise by the step, none is beyond the greatest.
        found = [n for _, n in program.numbers]
        if numbers:
            wanted = range(numbers["start"], numbers["greatest"] + 1, numbers["step"])
            assert found == list(wanted[: len(found)])
        else:
            assert set(found) == {None}
        # 3.6.2: M3 is the head of a spindle and of constant power, M4 of power that follows speed.
        head = "ccw" if here.gcode.get("power_follows_speed") else "cw"
        assert {m.head for m in program.moves if m.kind != "rapid"} == {head}
        assert program.head_at_end == "off"
        assert not laser or {m.head for m in program.moves if m.kind == "rapid"} == {"off"}
        assert any("eye" in remark for _, remark in program.remarks), "the cautions"


@pytest.mark.parametrize("name", DIALECTS)
def test_a_tool_is_changed_with_the_spindle_off_at_the_safe_height(name, cut):
    """3.6.3: M6 takes the tool that T has chosen; afterwards the head may stand anywhere. By hand the program stops
    for it (3.6.1), before anything has moved."""
    here = cut(name)
    for setup, text, program in zip(here.job["setups"], here.texts, here.programs):
        if not here.gcode.get("tool_change"):
            assert not program.changes and not program.stops
            continue
        if "M6" not in here.gcode["tool_change"]:
            [(line, stop)] = program.stops
            assert stop == "M0" and not program.changes and all(m.line > line for m in program.moves)
            assert "M5" in text.splitlines()[:line], "nothing an earlier program left on"
            continue
        router = here.files["machine"]["router"]
        safe = setup["stock"]["max"][2] + router["safe_height"]
        [(line, tool, head, height)] = program.changes
        assert tool == router["tool"]["number"] and head == "off"
        assert height == pytest.approx(safe, abs=REPLAY)
        assert "M5" in text.splitlines()[:line], "nothing an earlier program left on"
        after = [m for m in program.moves if m.line > line]
        assert after[0].kind == "rapid" and after[0].end == (None, None, pytest.approx(safe))
        assert all(m.line > line for m in program.moves if m.kind != "rapid")


@pytest.mark.parametrize("name", DIALECTS)
def test_lengths_and_feeds_are_the_files(name, cut):
    """An inch is 25.4 mm by definition: read back in mm, feeds are those of the material file."""
    here = cut(name)
    kind = here.post["drives"]
    material = here.files["material"][kind]
    allowed = {material["feed"]} | ({material["plunge_feed"]} if kind == "router" else set())
    for setup, program in zip(here.job["setups"], here.programs):
        feeds = {m.feed for m in program.moves if m.kind != "rapid"}
        assert len(feeds) == len(allowed)
        assert all(any(abs(f - a) < 0.002 for a in allowed) for f in feeds)
        # Sides outside an arc are a little longer, and few of the cuts are arcs.
        long = sum(m.length for m in program.moves if m.kind != "rapid" and m.start[2] == m.end[2])
        assert long == pytest.approx(setup["cut_mm"], rel=2e-3)


@pytest.mark.parametrize("decimals", [4, 5])
@pytest.mark.parametrize("name", ["laser-inch", "router-inch", "router-lines-inch"])
def test_coarse_decimals_of_an_inch_hold_at_odd_sizes(name, decimals, tmp_path):
    """A tab of 0.9 mm is 0.0354 or 0.03543 inch, a little lower: no more than rounding, and proven."""
    router = name.startswith("router")
    path = write_job(
        tmp_path / "in",
        DIALECTS[name],
        panel={"ground.pitch_across": 33.37, "ground.pitch_up": 41.93},
        material={"router.tab_height": 0.9} if router else {},
        post_processor={"": name, "number.decimals": decimals},
    )
    folder = make(path, tmp_path / "out")
    done = call("prove", folder)
    assert done.returncode == 0, said(done)
    if router:
        texts = [(folder / s["file"]).read_text() for s in summary(folder)["setups"]]
        assert all(f"Z{0.9 / 25.4:.{decimals}f}" in text for text in texts)
