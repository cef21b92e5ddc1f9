"""Sizes for an opening against a search that tries everything.

For one pitch p and a surround of one width s the panel closes where (p, s) lies in two strips, one for the
width and one for the height: shapely says whether they meet within the ranges asked for. Where pitches are
free, s is tried in small steps. What is written down is built, and measured from its members' ends.
"""

import itertools
import json
import math
import tomllib

import numpy as np
import pytest
from shapely.geometry import LineString, MultiPoint, Polygon, box
from workshop import call, changed, check, fixture, measured, said, toml, write_job

TOLERANCE = 0.05
SIN60 = math.sin(math.radians(60))
# Room enough that stock and machine refuse nothing.
ROOM = {
    "machine": {"travel": [3000, 3000]},
    "stock": {"blank": [{"name": "long", "length": 2500, "width": 1500}]},
}
# Fixture, changes, opening, gap, pitches, widths of the surround; all odd.
TIED = {
    "three-way": ("new-three-way", {}, (413.7, 287.9), 0.8, (27.3, 41.9), (5.3, 13.7)),
    "three-way-clear": (
        "new-three-way",
        {f"outline.{side}": {"clear": clear} for side, clear in
         [("left", 3.7), ("right", 5.1), ("bottom", 2.9), ("top", 7.3)]},
        (389.3, 301.1), 1.3, (28.9, 44.7), (4.1, 16.3),
    ),
    "open-three-way": ("new-open-three-way", {}, (352.9, 241.3), 0.0, (14.9, 26.3), (6.1, 11.9)),
    "eight-point": (
        "new-eight-point",
        {f"outline.{side}": {"clear": 6.3} for side in ("left", "right", "bottom", "top")},
        (317.3, 263.9), 1.1, (31.7, 52.3), (5.9, 14.3),
    ),
    "diamond": ("new-diamond", {"ground.angle": 37.3}, (331.7, 259.3), 0.7, (22.3, 35.9), (6.7, 10.3)),
}  # fmt: skip


def steps(ground):
    """Steps across and up at a pitch of 1 (design: the layouts)."""
    angle = math.radians(ground.get("angle", 0))
    return {
        "three-way": (SIN60, 1),
        "open-three-way": (2 * SIN60, 1),
        "eight-point": (1, 1),
        "diamond": (math.cos(angle), math.sin(angle)),
        "square": (1, 1),
    }[ground["layout"]]


def margins(panel, face):
    """What the sides' rules add across and up; all bars here have one face, that of the stock."""
    def add(side):
        rule = panel["outline"][side]
        if rule == "centres":
            return 0.0
        return -face / 2 if rule == "inner-edge" else rule["clear"]

    return add("left") + add("right"), add("bottom") + add("top")


def job(folder, name, changes):
    path = write_job(folder, name, panel=changes, **ROOM)
    panel = tomllib.loads(path.read_text())
    face = measured(tomllib.loads((folder / "material.toml").read_text()))[1]
    return path, panel, margins(panel, face)


def text(pair, sign):
    return sign.join(map(str, pair))


def fit(path, opening, gap, pitch, surround, *more):
    done = call(
        "fit", path, "--opening", text(opening, "x"), "--gap", gap, "--pitch", text(pitch, ".."),
        "--surround", text(surround, ".."), "--show", 24, "--json", *more,
    )  # fmt: skip
    assert done.returncode == 0, said(done)
    return json.loads(done.stdout)


def strip(slope, at, most):
    """Pitches and widths for which |at - slope p - 2 s| <= most."""
    low, high = -1e3, 1e3
    ends = [(p, (at + sign * most - slope * p) / 2) for p, sign in
            [(low, -1), (high, -1), (high, 1), (low, 1)]]  # fmt: skip
    return Polygon(ends)


def closes(slopes, ats, pitch, surround, most):
    """Whether some pitch and width leave the panel off by at most so much both ways."""
    eps = 1e-9  # so that a range of one value is a region
    region = box(pitch[0] - eps, surround[0] - eps, pitch[1] + eps, surround[1] + eps)
    for slope, at in zip(slopes, ats):
        region = region.intersection(strip(slope, at, most))
    return not region.is_empty


def least_miss(slopes, ats, pitch, surround):
    low, high = 0.0, 2e3
    for _ in range(45):
        middle = (low + high) / 2
        low, high = (low, middle) if closes(slopes, ats, pitch, surround, middle) else (middle, high)
    return high


def unlike(slopes, ats, pitch, surround):
    """The least difference of two widths that close; None where none do."""
    left = [[(at - slope * p) / 2 for slope, at in zip(slopes, ats)] for p in pitch]
    inside = LineString(left).intersection(box(surround[0], surround[0], surround[1], surround[1]))
    if inside.is_empty:
        return None
    return inside.distance(LineString([(-1e4, -1e4), (1e4, 1e4)])) * math.sqrt(2)


def decimals(value):
    return len(f"{value:.6f}".rstrip("0").split(".")[1])


@pytest.mark.parametrize("name", TIED)
def test_one_pitch_for_both_ways(name, tmp_path):
    base, changes, opening, gap, pitch, surround = TIED[name]
    path, panel, margin = job(tmp_path, base, changes)
    told = fit(path, opening, gap, pitch, surround)
    outer = [size - 2 * gap for size in opening]
    assert told["outer"] == pytest.approx(outer, abs=1e-6)
    ats = [o - m for o, m in zip(outer, margin)]
    k = steps(panel["ground"])

    exact, two, misses = set(), {}, {}
    for count in itertools.product(range(1, 60), repeat=2):
        slopes = [n * step for n, step in zip(count, k)]
        if closes(slopes, ats, pitch, surround, TOLERANCE):
            exact.add(count)
            continue
        least = unlike(slopes, ats, pitch, surround)
        if least is not None:
            two[count] = least
        elif all(slope * pitch[0] <= at - 2 * surround[0] + 70 for slope, at in zip(slopes, ats)):
            misses[count] = least_miss(slopes, ats, pitch, surround)
    assert exact or two, "the case shows something"
    assert told["found"]["exact"] == len(exact)
    assert told["found"]["by_surround"] == len(two)

    sizes = told["sizes"]
    of = {kind: [s for s in sizes if s["closes"] == kind] for kind in ("exact", "by-surround", "misses")}
    # Those that close, exact ones first; then the same of those that cannot be made; then those that miss.
    order = [(s["closes"] == "misses", s["planned"] is None and s["closes"] != "misses",
              s["closes"] != "exact") for s in sizes]  # fmt: skip
    assert order == sorted(order)
    counts = lambda list: [(s["columns"], s["rows"]) for s in list]  # noqa: E731
    assert set(counts(of["exact"])) == exact
    assert set(counts(of["by-surround"])) == set(two)
    for refused in (False, True):
        group = counts(s for s in of["by-surround"] if (s["planned"] is None) == refused)
        assert [two[c] for c in group] == pytest.approx(sorted(two[c] for c in group), abs=0.2), (
            "the likest widths first"
        )
    # Within a step all that miss are tried; some of those nearest, sound or not, are shown.
    near = sorted(v for v in misses.values() if v < min(k) * pitch[0])
    shown = [misses[c] for c in counts(of["misses"])]
    assert shown, "misses are shown too"
    least = min(len(near), len(shown))
    assert least > 2
    assert shown[:least] == pytest.approx(near[:least], abs=0.1)

    own = min(max(panel["ground"]["pitch"], pitch[0]), pitch[1])
    for refused in (False, True):
        group = [s["pitch"][0] for s in of["exact"] if (s["planned"] is None) == refused]
        odd = [(decimals(p), round(abs(math.log(p / own)), 5)) for p in group]
        assert odd == sorted(odd), "few decimals first, then near the panel's own pitch"
    for s in sizes:
        p, count = s["pitch"][0], (s["columns"], s["rows"])
        slopes = [n * step for n, step in zip(count, k)]
        ground = [n * p + m for n, m in zip(slopes, margin)]
        assert s["ground"] == pytest.approx(ground, abs=1e-5)
        left = [(o - g) / 2 for o, g in zip(outer, ground)]
        assert s["left"] == pytest.approx(left, abs=1e-5)
        off = [2 * (l - w) for l, w in zip(left, s["surround"])]
        assert s["off"] == pytest.approx(off, abs=1e-5)
        assert pitch[0] - 1e-9 <= p <= pitch[1] + 1e-9
        assert all(surround[0] - 1e-9 <= w <= surround[1] + 1e-9 for w in s["surround"])
        if s["closes"] == "misses":
            assert max(map(abs, off)) == pytest.approx(misses[count], abs=TOLERANCE + 1e-6)
        else:
            assert max(map(abs, off)) <= TOLERANCE + 1e-6
        if s["closes"] == "exact":
            # No rounder pitch closes within half the tolerance.
            for d in range(decimals(p)):
                scale = 10**d
                for n in range(math.ceil(pitch[0] * scale), math.floor(pitch[1] * scale) + 1):
                    one = (n / scale, n / scale)
                    assert not closes(slopes, ats, one, surround, TOLERANCE / 2 - 1e-6)
        # What gives: the pitch that closes one way, and what it leaves the other way.
        width, height = s["gives"]
        for way, i in ((width, 0), (height, 1)):
            assert way["pitch"] * slopes[i] + margin[i] + 2 * way["surround"] == pytest.approx(outer[i], abs=1e-4)
            other = (outer[1 - i] - margin[1 - i] - way["pitch"] * slopes[1 - i]) / 2
            assert way["left"] == pytest.approx(other, abs=1e-4)


@pytest.mark.parametrize("own", [(30, 24), (33.3, 33.3)])
def test_two_pitches(own, tmp_path):
    clear = {f"outline.{side}": {"clear": 7.7} for side in ("left", "right", "bottom", "top")}
    path, panel, margin = job(
        tmp_path, "new-square", {**clear, "ground.pitch_across": own[0], "ground.pitch_up": own[1]}
    )
    opening, gap, surround = (367.3, 251.9), 0.9, (6.3, 9.1)
    ranges = (29.3, 33.9), (21.7, 37.1)
    told = fit(path, opening, gap, ranges[0], surround, "--pitch-up", text(ranges[1], ".."))
    outer = [size - 2 * gap for size in opening]
    ratio = own[1] / own[0]
    width = np.linspace(*surround, 20001)
    exact, misses = {}, {}
    for count in itertools.product(range(1, 30), repeat=2):
        step = [(o - m - 2 * width) / n for o, m, n in zip(outer, margin, count)]
        off = [n * np.maximum(np.maximum(r[0] - s, s - r[1]), 0) for n, s, r in zip(count, step, ranges)]
        worst = np.maximum(*off)
        if worst.min() <= TOLERANCE:
            shape = np.abs(np.log(step[1][worst <= TOLERANCE] / step[0][worst <= TOLERANCE] / ratio))
            exact[count] = shape.min()
        else:
            misses[count] = worst.min()
    assert told["found"]["exact"] == len(exact) > 3
    assert told["found"]["by_surround"] == 0
    kinds = [s["closes"] for s in told["sizes"]]
    assert kinds == sorted(kinds), "exact ones first"
    assert all(s["planned"] for s in told["sizes"])
    best = [s for s in told["sizes"] if s["closes"] == "exact"]
    assert {(s["columns"], s["rows"]) for s in best} == set(exact)
    shapes = [abs(math.log(s["pitch"][1] / s["pitch"][0] / ratio)) for s in best]
    assert [round(100 * v) for v in shapes] == sorted(round(100 * v) for v in shapes)
    for s, shape in zip(best, shapes):
        assert shape == pytest.approx(exact[s["columns"], s["rows"]], abs=0.005)
        assert max(map(abs, s["off"])) <= TOLERANCE + 1e-6
        if own[0] == own[1] and exact[s["columns"], s["rows"]] < 1e-4:
            assert s["pitch"][0] == s["pitch"][1], "one story stick for both ways"
    near = [s for s in told["sizes"] if s["closes"] == "misses"]
    assert [misses[s["columns"], s["rows"]] for s in near] == pytest.approx(
        sorted(misses.values())[: len(near)], abs=0.02
    )


def test_an_angle_that_may_vary(tmp_path):
    path, panel, margin = job(tmp_path, "new-diamond", {"ground.angle": 41.3})
    opening, gap, pitch, surround, angle = (302.3, 207.7), 0.6, (23.3, 31.9), (6.1, 9.7), (36.7, 47.3)
    told = fit(path, opening, gap, pitch, surround, "--angle", text(angle, ".."))
    outer = [size - 2 * gap for size in opening]
    width = np.linspace(*surround, 4001)
    sure, maybe = set(), set()
    for count in itertools.product(range(1, 40), repeat=2):
        step = [(o - m - 2 * width) / n for o, m, n in zip(outer, margin, count)]
        p, a = np.hypot(*step), np.degrees(np.arctan2(step[1], step[0]))
        room = np.minimum.reduce([p - pitch[0], pitch[1] - p, a - angle[0], angle[1] - a])
        if room.max() > 0.01:
            sure.add(count)
        if room.max() > -0.02:
            maybe.add(count)
    assert len(sure) <= told["found"]["exact"] <= len(maybe)
    assert len(sure) > 5
    for s in told["sizes"]:
        if s["closes"] != "exact":
            continue
        count, turned = (s["columns"], s["rows"]), math.radians(s["angle"])
        assert count in maybe
        assert angle[0] <= s["angle"] <= angle[1]
        ground = [n * s["pitch"][0] * k + m for n, k, m in zip(count, (math.cos(turned), math.sin(turned)), margin)]
        for g, o, w in zip(ground, outer, s["surround"]):
            assert g + 2 * w == pytest.approx(o, abs=TOLERANCE + 1e-6)


def written(path, opening, gap, pitch, surround, *more, number=1):
    out = path.parent / f"fitted-{number}.toml"
    told = fit(path, opening, gap, pitch, surround, *more, "--pick", number, "--write", out)
    assert told["written"] == {"number": number, "file": str(out)}
    return told, told["sizes"][number - 1], out


@pytest.mark.parametrize("name", [*TIED, "square", "turned"])
def test_what_is_written_has_the_size_told(name, tmp_path):
    more = ()
    if name == "square":
        case = ("new-square", {}, (367.3, 251.9), 0.9, (29.3, 33.9), (6.3, 9.1))
    elif name == "turned":
        case = ("new-diamond", {}, (302.3, 207.7), 0.6, (23.3, 31.9), (6.1, 9.7))
        more = ("--angle", "36.7..47.3")
    else:
        case = TIED[name]
    base, changes, opening, gap, pitch, surround = case
    path, panel, margin = job(tmp_path, base, changes)
    told = fit(path, opening, gap, pitch, surround, *more)
    outer = [size - 2 * gap for size in opening]
    tried = set()
    for size in told["sizes"]:
        number, kind = size["number"], size["closes"]
        if kind == "misses" or None in (size["past"], size["planned"]) or len(tried) == 4:
            continue
        tried.add(number)
        _, size, out = written(path, opening, gap, pitch, surround, *more, number=number)
        made = check(out)
        assert [made["panel"]["width"], made["panel"]["height"]] == pytest.approx(outer, abs=TOLERANCE + 1e-5)
        ends = [end for m in made["members"] for end in (m["start"], m["end"])]
        left, bottom, right, top = MultiPoint(ends).bounds
        ground = [g + 2 * p for g, p in zip(size["ground"], size["past"])]
        assert [right - left, top - bottom] == pytest.approx(ground, abs=1e-5)
        width = min(size["surround"])
        assert [g + 2 * width for g in ground] == pytest.approx(outer, abs=TOLERANCE + 1e-5)
        # The figures are those of the panel as it is made.
        planned = size["planned"]
        assert planned["members"] == len(made["members"])
        assert planned["classes"] == len(made["classes"])
        assert planned["notches"] == sum(len(m["joints"]) for m in made["members"])
        nodes = {tuple(j["node"]) for m in made["members"] for j in m["joints"] if j["filled"]}
        assert planned["joints"] == len(nodes)
        assert sum(planned["stock"].values()) == made["nest"]["used"]
        minutes = sum(s["minutes"] * s["loads"] for s in made["setups"])
        assert planned["minutes"] == pytest.approx(minutes, abs=1e-4)
        # Nothing but the size has changed in the file.
        before, after = path.read_text().splitlines(), out.read_text().splitlines()
        keys = ("pitch", "columns", "rows", "angle", "width", "bottom", "top", "left", "right")
        assert len(before) == len(after)
        for a, b in zip(before, after):
            assert a == b or a.split(" ")[0].startswith(keys), (a, b)
    assert tried


def test_edge_up_counts_sticks_and_loads(tmp_path):
    path = write_job(tmp_path, "check")
    told, size, out = written(path, (351.75, 213), 1, (60, 70), (8, 8))
    assert (size["columns"], size["rows"], size["pitch"][0], size["closes"]) == (6, 3, 65, "exact")
    made = check(out)
    assert size["planned"]["sticks"] == sum(s["count"] + s["spares"] for s in made["sticks"])
    minutes = sum(s["minutes"] * s["loads"] for s in made["setups"] if s["kind"] == "edge-up")
    datums = sum(s["minutes"] * s["loads"] for s in made["setups"] if s["kind"] == "datum")
    assert datums > 0
    assert size["planned"]["minutes"] == pytest.approx(minutes + datums, abs=1e-4)


def test_a_lapped_surround_counts_with_its_ears(tmp_path):
    """Its sides are as wide as the stock is thick, and run on past the notch at each corner, which is wider
    by the clearance (plain window: 0.05)."""
    laps = {"width": 1.5, "cut": "laps", "ear": 4.7}
    path = write_job(tmp_path, "plain-window", panel={"surround": laps})
    out = tmp_path / "fitted.toml"
    done = call(
        "fit", path, "--outer", "173.3x131.9", "--pitch", "19..27", "--json", "--write", out
    )  # fmt: skip
    assert done.returncode == 0, said(done)
    size = json.loads(done.stdout)["sizes"][0]
    made = check(out)
    assert [made["panel"]["width"], made["panel"]["height"]] == pytest.approx(
        [173.3, 131.9], abs=TOLERANCE + 1e-5
    )
    whole = [g + 2 * (w + 0.05 / 2 + 4.7) for g, w in zip(size["ground"], size["surround"])]
    assert whole == pytest.approx([173.3, 131.9], abs=TOLERANCE + 1e-5)
    done = call("fit", path, "--outer", "173.3x131.9", "--surround", "6..9")
    assert done.returncode == 2 and "as wide as its stock" in done.stderr, said(done)


def test_starters_and_units(tmp_path):
    out = tmp_path / "new.toml"
    words = ["fit", "square", "--opening", "11 3/4 x 7 7/8 in", "--gap", "1/32 in", "--json"]
    done = call(*words, "--pitch", "1..1 1/2 in", "--surround", "1/4..3/8 in", "--write", out)
    assert done.returncode == 0, said(done)
    outer = [(11.75 - 1 / 16) * 25.4, (7.875 - 1 / 16) * 25.4]
    assert json.loads(done.stdout)["outer"] == pytest.approx(outer, abs=1e-6)
    panel = check(out)["panel"]
    assert [panel["width"], panel["height"]] == pytest.approx(outer, abs=TOLERANCE + 1e-5)
    again = call(*words, "--pitch", "1..1 1/2 in", "--surround", "1/4..3/8 in")
    assert json.loads(again.stdout)["sizes"] == json.loads(done.stdout)["sizes"]


# Words of the call, and what the complaint says that would be right.
REFUSED = [
    (["three-way", "--opening", "30x400"], "smaller than one cell"),
    (["square", "--opening", "300x20", "--pitch", "30..40"], "one row"),
    (["three-way", "--opening", "600x400", "--pitch", "70..40"], "write 40..70"),
    (["three-way", "--opening", "600x400", "--pitch", ".."], "--pitch"),
    (["three-way", "--opening", "600x400", "--surround", "12..6"], "write 6..12"),
    (["three-way", "--opening", "600x400", "--surround", "200..300"], "narrower than 200"),
    (["three-way", "--opening", "600x400", "--surround", "0"], "more than 0"),
    (["three-way", "--opening", "600x400", "--pitch", "0..40"], "more than 0"),
    (["three-way", "--opening", "600"], "600x400"),
    (["three-way", "--opening", "600x-3"], "height"),
    (["three-way", "--opening", "600x400 furlongs"], "mm, cm or in"),
    (["three-way"], "--opening"),
    (["three-way", "--outer", "600x400", "--gap", "1"], "--gap"),
    (["three-way", "--opening", "600x400", "--gap", "200"], "less than half"),
    (["free", "--opening", "600x400"], "named layout"),
    (["square", "--opening", "600x400", "--angle", "30..40"], "diamond"),
    (["diamond", "--opening", "600x400", "--angle", "2..40"], "5 to 85"),
    (["three-way", "--opening", "600x400", "--pitch-up", "30"], "square"),
    (["square", "--opening", "9000x9000", "--pitch", "2..500"], "narrow the range"),
    (["square", "--opening", "600x400", "--pitch", "1..1.2"], "greater pitch"),
    (["square", "--opening", "600x400", "--pick", "2"], "--write"),
    (["nosuch.toml", "--opening", "600x400"], "no panel file"),
    (["square", "--opening", "600x400", "--tolerance", "0"], "tolerance"),
]  # fmt: skip


@pytest.mark.parametrize("words, right", REFUSED)
def test_what_cannot_be_is_told(words, right, tmp_path):
    done = call("fit", *words, cwd=tmp_path)
    assert done.returncode == 2, said(done)
    assert right in done.stderr, said(done)
    assert done.stdout == ""


def test_what_is_not_written(tmp_path):
    path, panel, margin = job(tmp_path, "new-three-way", {})
    def refused(out, *more, status=2):
        done = call("fit", path, "--opening", "413.7x287.9", "--pitch", "27.3..41.9", *more, "--write", out)
        assert done.returncode == status, said(done)
        return done.stderr

    there = tmp_path / "there.toml"
    there.write_text("mine\n")
    assert "already there" in refused(there, "--surround", "5..14")
    assert there.read_text() == "mine\n"
    out = tmp_path / "out.toml"
    assert "misses the opening" in refused(out, "--surround", "5..5.1", "--pick", "8")
    assert "from 1 to 3" in refused(out, "--show", "3", "--pick", "4")
    # The other files are named from the panel file's folder.
    (tmp_path / "elsewhere").mkdir()
    assert "folder of the panel" in refused(tmp_path / "elsewhere" / "out.toml", "--surround", "5..14")
    polygon = changed(fixture("panel", "new-three-way"), {
        "outline": {"side": [{"x": x, "y": y, "rule": "centres"} for x, y in [(0, 0), (4, 0), (4, 3), (0, 3)]],
                    "in_steps": True, "overhang": 12},
        "ground.columns": None, "ground.rows": None,
    })  # fmt: skip
    (tmp_path / "sides.toml").write_text(toml(polygon))
    done = call("fit", tmp_path / "sides.toml", "--opening", "413x287")
    assert done.returncode == 2 and "lists the sides" in done.stderr, said(done)
    assert not out.exists()
    assert list((tmp_path / "elsewhere").iterdir()) == []
