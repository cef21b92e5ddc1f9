"""Sheets that are cut alike share a program: run as often as job.json says, all programs together cut every piece of
all panels and every spare once.

What is cut is read from the drawings by ezdxf and swept from the programs by shapely, sheet by sheet; no list of
pieces in job.json is trusted. What is wanted comes from the panel file: bars by the design's rules (ground.py), by
their side views; infill by the cells of one panel.
"""

import csv
import io
import json
import re
import shutil
from collections import Counter
from pathlib import Path

import ezdxf
import pytest
from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.ops import unary_union
from shapely.strtree import STRtree

import rs274
from ground import Ground, piece_of, same_pieces
from odd import BED
from sweeps import REPLAY, SPECK, paths, reliefs, swept
from views import plan_view, side_view
from workshop import (
    call, flat_runs, make, measured, members_of, millimetres, said, sources, summary, write_job,
)  # fmt: skip

SMALL = {"ground.columns": 2, "ground.rows": 2, "ground.pitch_across": 41.3, "ground.pitch_up": 37.7}
# name: (base, what write_job takes, whether pieces are joined end to end)
JOBS = {
    "many of a plain window": ("plain-window", {"panel": {"quantity": 37}}, False),
    "kits with spares": (
        "plain-window",
        {"panel": {"quantity": 26, "kits": {"panels": 2, "spares": 1, "common_spares": 3}}},
        False,
    ),
    "odd faces, three ways": (
        "three-way-card",
        {
            "panel": {"quantity": 11, "ground.face": 4.37, "ground.depth": 13.1, "ground.pitch": 71.3},
            "machine": BED, "material": {"thickness": 4.37},
            "stock": {"blank": [{"name": "narrow", "length": 1100, "width": 60}]},
        },
        False,
    ),
    "strips": ("router-square", {"panel": {"quantity": 5}}, False),
    "joined": (
        "router-square",
        {
            "panel": {"quantity": 11, "outline.overhang": 12, **SMALL},
            "machine": {"router.hold_length": 270},
        },
        True,
    ),
    "infill in a batch of its own": ("hemp-leaf-outlines", {"panel": {"quantity": 40}}, False),
    "infill in blanks": ("hemp-leaf-card", {"panel": {"quantity": 40}}, False),
}  # fmt: skip


@pytest.fixture(scope="module")
def made_once(tmp_path_factory):
    """made_once(name) -> (whether pieces are joined, folder) of a job, made once."""
    found = {}

    def once(name):
        if name not in found:
            found[name] = made_of(name, tmp_path_factory.mktemp("loads"))
        return found[name]

    return once


@pytest.fixture(scope="module", params=JOBS)
def job(request, made_once):
    return made_once(request.param)


def made_of(name, folder):
    base, changes, joined = JOBS[name]
    changes = json.loads(json.dumps(changes))
    if base.startswith("hemp"):
        path = folder / "panel.toml"
        text = (Path(__file__).parents[2] / "fixtures" / "panels" / f"{base}.toml").read_text()
        path.write_text(f"quantity = {changes['panel']['quantity']}\n{text}")
    else:
        path = write_job(folder / "in", base, **changes)
    return joined, make(path, folder / "out")


def flat_setups(told):
    return [s for s in told["setups"] if s["kind"].startswith("flat")]


def drawn_pieces(folder, setup):
    """Finished outlines in the sheet's drawing; pieces that are joined end to end apart at their grooves."""
    style = sources(folder)["post_processor"]["dxf"]
    groove = style.get("groove", {"name": "lap-groove"})["name"]
    space = ezdxf.readfile(folder / "dxf" / f"{Path(setup['file']).stem}-drawn-size.dxf").modelspace()
    shapes = {style["outline"]["name"]: [], groove: []}
    for line in space.query("LWPOLYLINE"):
        if line.closed and line.dxf.layer in shapes:
            assert not any(bulge for *_, bulge in line.get_points("xyb")), "finished outlines are straight"
            shapes[line.dxf.layer].append(Polygon(line.get_points("xy")))
    # Grooves are as wide as the gap between two ends: grown by a hair they leave no sliver.
    parted = unary_union(shapes[groove]).buffer(1e-6, join_style="mitre")
    for outline in shapes[style["outline"]["name"]]:
        rest = outline.difference(parted)
        yield from (p for p in getattr(rest, "geoms", [rest]) if p.area > 1e-3)


def wanted(folder):
    """[(shape at the origin, how many are to be cut)] by the panel file and the design's rules."""
    told, files = summary(folder), sources(folder)
    panel = files["panel"]
    quantity, kits = panel.get("quantity", 1), panel.get("kits", {})
    count = quantity // kits.get("panels", 1)
    spares = kits.get("spares", 0) * count + kits.get("common_spares", 0)
    ground, face = Ground(panel, files["material"]), measured(files["material"])[1]
    found = []
    groups = same_pieces([piece_of(b) for b in ground.bars], [b.line.face for b in ground.bars])
    for group in groups:
        bar = ground.bars[group[0]]
        notches = [
            {"at": n.at, "edge": n.edge, "depth": n.depth, "run": n.run} for n in bar.joints
        ]
        ends = [{"angle": angle, "shape": shape} for angle, shape in bar.ends]
        member = {
            "ends": ends, "length": bar.length, "from": bar.low, "turn": "none", "joints": notches,
        }  # fmt: skip
        shape = side_view(member, ground.depth, face)
        found.append((shape, len(group) * quantity + spares))
    inside = Counter(p["id"] for cell in told["cells"] for p in cell["pieces"])
    for row in told["infill"]:
        assert row["cut"] != "by-hand"
        shape = plan_view(row) if row["cut"] == "outlines" else box(0, 0, row["blank"], row["depth"])
        found.append((shape, inside[row["id"]] * quantity + spares))
    # Blanks of different classes may be the same: they are counted together.
    alike = []
    for shape, count in found:
        same = next((k for k, (other, _) in enumerate(alike) if matches(shape, other)), None)
        if same is None:
            alike.append((shape, count))
        else:
            alike[same] = (alike[same][0], alike[same][1] + count)
    return alike


def matches(drawn, shape):
    """Whether an outline is a piece as it may lie: turned over, end for end, or both."""
    x0, y0, x1, y1 = drawn.bounds
    a0, b0, a1, b1 = shape.bounds
    if abs((x1 - x0) - (a1 - a0)) > 0.01 or abs((y1 - y0) - (b1 - b0)) > 0.01:
        return False
    here = affinity.translate(drawn, -x0, -y0)
    for sx, sy in [(1, 1), (-1, 1), (1, -1), (-1, -1)]:
        lying = affinity.scale(shape, sx, sy, origin=(0, 0))
        lying = affinity.translate(lying, -lying.bounds[0], -lying.bounds[1])
        # As far as bars that are the same piece may differ, all round.
        if here.symmetric_difference(lying).area <= 0.011 * shape.length:
            return True
    return False


def cut_in_all(folder, told):
    """How many of each wanted shape all runs of all programs cut."""
    shapes, counts = [shape for shape, _ in wanted(folder)], Counter()
    for setup in flat_setups(told):
        for drawn in drawn_pieces(folder, setup):
            [at] = [k for k, shape in enumerate(shapes) if matches(drawn, shape)]
            counts[at] += setup["loads"]
    return counts


def test_every_piece_is_cut_once(job):
    _, folder = job
    told = summary(folder)
    right = Counter({k: n for k, (_, n) in enumerate(wanted(folder))})
    assert cut_in_all(folder, told) == right
    setups = flat_setups(told)
    assert any(s["loads"] > 1 for s in setups), "some sheets share a program"
    # A program that is run once more or less often no longer gives the sum.
    for by in (-1, 1):
        wrong = json.loads(json.dumps(told))
        flat_setups(wrong)[0]["loads"] += by
        assert cut_in_all(folder, wrong) != right


def test_programs_cut_what_the_drawings_show(job):
    """Each program swept through: it goes round every outline of its drawing, holds apart, and takes nothing of it."""
    joined, folder = job
    told, files = summary(folder), sources(folder)
    relief = files["panel"]["cut"].get("relief")
    for setup in flat_setups(told):
        beam = setup["kerf"]
        radius = (beam or setup["tool_diameter"]) / 2
        kind = relief or ("none" if beam else "floor")
        stretches = paths(rs274.read((folder / setup["file"]).read_text()))
        if not beam:
            lowest = min(path.height for path in stretches)
            stretches = [path for path in stretches if path.height < lowest + 1e-6]
        cuts = [swept([path], radius) for path in stretches]
        near = STRtree(cuts)
        outlines = list(drawn_pieces(folder, setup))
        # What a drawing shows is what the strip of every run holds.
        for own, strip in flat_runs(told):
            assert own is not setup or len(strip["pieces"]) == len(outlines)
        for outline in outlines:
            cut = unary_union([cuts[k] for k in near.query(outline.buffer(2 * radius))])
            inside = outline.buffer(-REPLAY, join_style="mitre")
            if kind != "none":
                inside = inside.difference(reliefs(outline, radius, kind).buffer(REPLAY))
            assert inside.intersection(cut).area <= SPECK, setup["file"]
            way = outline.convex_hull.buffer(radius, join_style="mitre").exterior
            share = way.intersection(cut).length / way.length
            # Joined pieces hang together at their ends, and holds stand on the back edge.
            assert share > (0.5 if joined else 0.75), (setup["file"], share)


def test_no_two_programs_are_the_same(job):
    """Motion without remarks and names: what is alike is one file, and every file is another one."""
    _, folder = job
    motions = Counter()
    for setup in flat_setups(summary(folder)):
        lines = (folder / setup["file"]).read_text().splitlines()
        motions[tuple(re.sub(r"\(.*?\)|;.*", "", line).strip() for line in lines)] += 1
        air = (folder / setup["air_run"]).read_text()
        assert Path(setup["file"]).stem in air
    assert set(motions.values()) == {1}
    files = {p.name for p in (folder / "gcode").iterdir()}
    told = summary(folder)["setups"]
    assert files == {Path(s[key]).name for s in told for key in ("file", "air_run")}


def test_heads_notes_and_drawings_say_how_often(job):
    _, folder = job
    told = summary(folder)
    notes = (folder / "dxf" / "notes.txt").read_text()
    numbers = {}
    for setup in flat_setups(told):
        stem, loads = Path(setup["file"]).stem, setup["loads"]
        text = (folder / setup["file"]).read_text()
        batch = stem.rsplit("-", 1)[0]
        first = numbers.get(batch, 0) + 1
        numbers[batch] = first + loads - 1
        assert stem == f"{batch}-{first:02}", "named after its first sheet"
        part = notes.split(f"dxf/{stem}-drawn-size.dxf")[1].split("\n\n")[0]
        if loads == 1:
            assert "a new sheet each" not in text and re.search(r"to cut +once", part)
        else:
            assert f"run {loads} times, a new sheet each" in text
            assert re.search(rf"to cut +{loads} times, a new sheet each", part)
            assert f"sheets {first} to {numbers[batch]} of" in text
    assert sum(numbers.values()) == told["nest"]["used"] == len(flat_runs(told))


def test_each_run_has_its_own_members(job):
    """loads.csv, strips and placements tell the same; a member is never named where it does not hold."""
    _, folder = job
    told, quantity = summary(folder), summary(folder)["panel"]["quantity"]
    listed = folder / "loads.csv"
    text = listed.read_bytes().decode() if listed.exists() else ""
    rows = iter(csv.DictReader(io.StringIO(text, newline="")))
    ids = Counter()
    for setup, strip in flat_runs(told):
        own = [p["id"] for p in strip["pieces"]]
        ids.update(own)
        if setup["loads"] == 1:
            assert "load" not in strip
            assert [p["id"] for p in setup["placements"]] == own
            continue
        assert strip["file"] == setup["file"]
        load = strip["load"]
        assert [p["id"] for p in setup["placements"] if p.get("load", load) == load] == own
        for k, piece in enumerate(strip["pieces"]):
            if len(set(members_of(told, setup, k))) == 1:
                continue
            row = next(rows)
            assert (row["program"], int(row["load"]), row["member"]) == (setup["file"], strip["load"], piece["id"])
            assert (float(row["x_mm"]), float(row["y_mm"])) == (piece["x"], piece["y"])
    assert next(rows, None) is None
    spares = {c["id"]: c.get("spares", 0) for c in told["classes"]}
    for member in told["members"]:
        extra = ids[member["id"]] - quantity
        assert extra in (0, spares[member["class"]]), member["id"]
    classes = {m["id"]: m["class"] for m in told["members"]}
    for setup in flat_setups(told):
        differ = [
            k for k, _ in enumerate(next(s for own, s in flat_runs(told) if own is setup)["pieces"])
            if len(set(members_of(told, setup, k))) > 1
        ]  # fmt: skip
        space = ezdxf.readfile(folder / "dxf" / f"{Path(setup['file']).stem}-drawn-size.dxf").modelspace()
        texts = Counter(t.dxf.text for t in space.query("TEXT"))
        strip = next(strip for own, strip in flat_runs(told) if own is setup)
        labels = Counter()
        for k, piece in enumerate(strip["pieces"]):
            of = classes.get(piece["id"], piece["id"])
            labels[of if k in differ or of == piece["id"] else f"{of} {piece['id']}"] += 1
        assert {t: n for t, n in texts.items() if t in labels} == labels
        named = [t for t in texts if re.fullmatch(r"\S+ \S+", t) and t.split()[1] in classes]
        assert set(named) <= set(labels), "no other member is named"


def change(folder, file, old, new):
    path = folder / file
    text = path.read_text()
    assert old in text, (file, old)
    path.write_text(text.replace(old, new, 1))


@pytest.mark.parametrize("name", ["kits with spares", "joined"])
def test_changed_loads_are_refused(name, made_once, tmp_path):
    _, sound = made_once(name)
    assert call("prove", sound).returncode == 0
    told = summary(sound)
    shared = next(s for s in flat_setups(told) if s["loads"] > 1)
    loads, stem = shared["loads"], Path(shared["file"]).stem
    listed = sound / "loads.csv"
    rows = listed.read_text().splitlines()[1:2] if listed.exists() else []
    assert rows or name != "joined"
    # A drawing has notes where they find room on the stock.
    drawing = f"dxf/{stem}-drawn-size.dxf"
    noted = "lap-note" in (sound / drawing).read_text()
    assert noted or name != "joined"
    for number, (file, old, new) in enumerate(
        [
            ("job.json", f'"loads": {loads},', f'"loads": {loads + 1},'),
            ("job.json", '"load": 2,', '"load": 1,'),
            ("job.json", f'"file": "{shared["file"]}",', '"file": "gcode/sheet-99.nc",'),
            (shared["file"], f"run {loads} times", f"run {loads - 1} times"),
            *([(drawing, f"cut {loads} times", f"cut {loads + 2} times")] if noted else []),
            ("dxf/notes.txt", f"{loads} times, a new", f"{loads + 1} times, a new"),
            *[("loads.csv", row, ",".join([row.split(",")[0], "9", *row.split(",")[2:]])) for row in rows],
        ]
    ):
        folder = shutil.copytree(sound, tmp_path / f"job-{number}")
        change(folder, file, old, new)
        done = call("prove", folder)
        assert done.returncode == 1 and file in done.stderr, said(done)
    # The quantity of the sources decides, not what the folder says of itself.
    folder = shutil.copytree(sound, tmp_path / "quantity")
    quantity = told["panel"]["quantity"]
    change(folder, "source/panel.toml", f"quantity = {quantity}", f"quantity = {quantity * 2}")
    assert call("prove", folder).returncode == 1
    # A sheet more, as one program for each of two.
    folder = shutil.copytree(sound, tmp_path / "more")
    shutil.copy(folder / shared["file"], folder / "gcode" / f"{stem}-2.nc")
    done = call("prove", folder)
    assert done.returncode == 1 and "does not belong to this job" in done.stderr, said(done)


def test_one_panel_without_equal_sheets_has_no_loads(tmp_path):
    folder = make(write_job(tmp_path / "in", "plain-window"), tmp_path / "out")
    told = summary(folder)
    assert [s["loads"] for s in told["setups"]] == [1]
    assert not (folder / "loads.csv").exists()
    assert all("load" not in s for s in told["nest"]["strips"])


def test_times_count_every_run(tmp_path):
    """A job of so many panels runs at least as long as the sheets it takes at the minutes of each."""
    folder = make(write_job(tmp_path / "in", "plain-window", panel={"quantity": 30}), tmp_path / "out")
    told = summary(folder)
    minutes = sum(s["minutes"] * s["loads"] for s in told["setups"])
    page = (folder / "sheet.html").read_text()
    hours = re.search(r"about ([^<]*?) of cutting in all", page).group(1)
    parts = [float(n) for n in re.findall(r"\d+(?:\.\d+)?", hours)]
    told_minutes = parts[0] * 60 + (parts[1] if len(parts) > 1 else 0) if " h" in hours else parts[0]
    assert told_minutes == pytest.approx(minutes, abs=1.0)
    assert millimetres(told["setups"][0]["kerf"]) > 0
