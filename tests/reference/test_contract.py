"""The contract that other programs rely on: job.json (schema 1), the folder, exit statuses."""

import csv
import hashlib
import io
import json
import math
import re
import tomllib
from decimal import Decimal
from xml.etree import ElementTree

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.strtree import STRtree

import rs274
from views import cut_pieces, pieces_of, side_view
from workshop import (
    FLAT_PANELS, call, fixture_path, flat_runs, make, measured, millimetres, said, sources, summary, write_job,
)  # fmt: skip

NUMBER = re.compile(r"(?<=[\s\[:,])-?\d[\d.eE+-]*")
XY, XYZ = [float] * 2, [float] * 3
ANY = object()


class Either:
    """One of several shapes."""

    def __init__(self, *shapes):
        self.shapes = shapes


class Word:
    def __init__(self, *words):
        self.words = words


OPTIONAL = Either(float, None)
END = {"angle": float, "shape": Word("square", "skew", "point")}
NOTCH = {"at": float, "edge": Word("front", "back"), "angle": float, "width": float, "depth": float}
SCHEMA = {
    "schema": 1,
    "program": str,
    "panel": {
        "name": str, "quantity": int, "width": float, "height": float,
        "inner_width": float, "inner_height": float,
    },
    "members": [{
        "id": str, "class": str, "turn": Word("none", "over", "end", "both"), "family": str,
        "rank": int, "start": XY, "end": XY, "from": float, "to": float, "length": float,
        "ends": [END],
        "joints": [{
            **NOTCH, "node": XY, "with": Either(str, None), "filled": bool, "line": str,
            "shape": Word("skew", "square"), "run": float,
        }],
    }],
    "classes": [{"id": str, "count": int, "length": float, "ends": [END], "joints": [NOTCH]}],
    "sticks": [{
        "id": str, "class": str, "joints": int, "length": float, "lead": float, "tail": float,
        "count": int, "spares": int, "ends": [END], "notches": [NOTCH],
        "pieces": [{
            "class": str, "first_joint": int, "joints": int,
            "turn": Word("none", "over", "end", "both"), "cut": XY,
        }],
    }],
    "infill": [{
        "id": str, "pattern": str, "count": int, "face": float, "length": float, "ends": [XY],
    }],
    "surround": [{
        "id": str, "side": str, "long": float, "short": float, "face": float, "mitres": XY,
    }],
    "order": [[str]],
    "dry_fit": {"interference_mm3": float, "largest_gap_mm": float, "press_mm": float},
    "nest": {
        "used": int, "lower_bound": int, "optimal": bool,
        "strips": [{
            "stock": str, "length": float, "width": float, "offcut": float,
            "pieces": [{"id": str, "x": float, "y": float}],
        }],
    },
    "setups": [{
        "file": str, "air_run": Either(str, None), "path": {"min": XYZ, "max": XYZ},
        "kind": Word("edge-up", "datum", "flat-router", "flat-laser"), "coupon": bool,
        "loads": int, "tool": str, "tool_diameter": OPTIONAL, "kerf": OPTIONAL, "fence": OPTIONAL,
        "edge_up": Either(Word("front", "back"), None),
        "stock": {"min": XYZ, "max": XYZ}, "zero": {"x": str, "y": str, "z": str},
        "rails": [ANY], "keep_out": [ANY], "passes": [float],
        "cut_mm": float, "travel_mm": float, "minutes": float,
        "placements": [{"id": str, "to_setup": [[float] * 4] * 3}],
    }],
    "checks": [{
        "id": str, "status": Word("pass", "warn", "fail"), "value": float, "limit": float,
        "unit": str, "where": str,
    }],
    "files": [{"path": str, "sha256": str}],
}  # fmt: skip


def faults(value, shape, where="job"):
    """What in a summary is not of its shape; more keys may be added."""
    if shape is ANY:
        return []
    if isinstance(shape, Either):
        found = [faults(value, one, where) for one in shape.shapes]
        return [] if [] in found else found[0]
    if isinstance(shape, Word):
        return [] if value in shape.words else [f"{where}: {value!r} is none of {shape.words}"]
    if isinstance(shape, dict):
        if not isinstance(value, dict):
            return [f"{where}: not an object"]
        missing = [f"{where}: {key} is missing" for key in shape if key not in value]
        inside = [faults(value[k], s, f"{where}.{k}") for k, s in shape.items() if k in value]
        return missing + sum(inside, [])
    if isinstance(shape, list):
        if not isinstance(value, list):
            return [f"{where}: not a list"]
        shapes = shape if len(shape) > 1 else shape * len(value)
        if len(shapes) != len(value):
            return [f"{where}: {len(value)} values for {len(shapes)}"]
        pairs = zip(value, shapes)
        return sum([faults(v, s, f"{where}[{i}]") for i, (v, s) in enumerate(pairs)], [])
    if isinstance(shape, type):
        kinds = (int, float) if shape is float else (shape,)
        good = isinstance(value, kinds) and (shape is bool or not isinstance(value, bool))
        return [] if good else [f"{where}: {value!r} is no {shape.__name__}"]
    return [] if value == shape else [f"{where}: {value!r} is not {shape!r}"]


def test_keys_of_schema_1(any_panel):
    _, _, _, job = any_panel
    assert faults(job, SCHEMA) == []


def test_the_schema_check_can_fail(any_panel):
    _, _, _, job = any_panel
    job = json.loads(json.dumps(job))
    del job["members"][0]["joints"][0]["with"]
    job["members"][1]["start"].append(0.0)
    job["members"][2]["turn"] = "twice"
    job["panel"]["quantity"] = True
    assert len(faults(job, SCHEMA)) == 4


def numbers(text):
    bare = re.sub(r'"(?:[^"\\]|\\.)*"', '""', text)
    return [Decimal(n) for n in NUMBER.findall(bare)]


def test_numbers_have_six_decimals_and_no_minus_nought(flat_job):
    text = (flat_job / "job.json").read_text()
    found = numbers(text)
    assert len(found) > 100
    for number in found:
        assert number.as_tuple().exponent >= -6, number
        assert number or not number.is_signed(), "-0"


def test_files_are_listed_sorted_with_their_digests(flat_job):
    listed = summary(flat_job)["files"]
    there = {
        f.relative_to(flat_job).as_posix(): f for f in flat_job.rglob("*") if f.is_file()
    }
    del there["job.json"]
    assert [f["path"] for f in listed] == sorted(there)
    for entry in listed:
        digest = hashlib.sha256(there[entry["path"]].read_bytes()).hexdigest()
        assert entry["sha256"] == digest, entry["path"]
    assert {p.split("/")[0] for p in there} >= {"source", "gcode", "dxf", "members.csv", "panel.svg"}


@pytest.mark.parametrize("name", [*FLAT_PANELS, "odd-router"])
def test_sources_are_byte_copies(name, panel_file, made):
    path = panel_file(name)
    folder = made(path)
    copies = {f.name: f.read_bytes() for f in (folder / "source").iterdir()}
    data = tomllib.loads(path.read_text())
    originals = [path]
    for kind in ("machine", "material", "stock", "post_processor"):
        named = data[kind]
        own = named.endswith(".toml")
        originals.append(path.parent / named if own else fixture_path(kind, named))
    infill = data.get("infill", {})
    tables = [table for table in (infill, *infill.get("feature", [])) if table]
    further = 0
    for kind in ("pattern", "material", "stock"):
        named = {table[kind] for table in tables if kind in table} - {data.get(kind)}
        originals += [fixture_path(kind, name) for name in named]
        further += len(named)
    assert len(copies) == 5 + further == len(originals)
    assert sorted(copies.values()) == sorted(f.read_bytes() for f in originals)
    assert copies["panel.toml"] == path.read_bytes()


def test_cut_list_agrees_with_the_members(flat_job):
    """RFC 4180; one line a member."""
    job = summary(flat_job)
    text = (flat_job / "members.csv").read_bytes().decode()
    assert text.count("\r\n") == text.count("\n")
    rows = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    assert len(rows) == len(job["members"])
    depth = millimetres(sources(flat_job)["panel"]["ground"]["depth"])
    for row, member in zip(rows, job["members"]):
        assert row["member"] == member["id"]
        for key in ("class", "turn", "family"):
            assert row[key] == member[key], member["id"]
        assert float(row["length_mm"]) == member["length"]
        assert float(row["depth_mm"]) == depth
        assert int(row["rank"]) == member["rank"]
        assert int(row["notches"]) == len(member["joints"])
        for number in row.values():
            assert not number.startswith("-0")


def test_ids_are_unique(any_panel):
    _, _, _, job = any_panel
    ids = [x["id"] for key in ("members", "classes", "sticks", "infill", "surround") for x in job[key]]
    assert len(ids) == len(set(ids))


def tree(folder):
    return {f.relative_to(folder): f.read_bytes() for f in folder.rglob("*") if f.is_file()}


@pytest.mark.parametrize("name", [*FLAT_PANELS, "odd-three-way"])
def test_the_same_input_gives_the_same_bytes(name, panel_file, made, tmp_path):
    """Made again elsewhere, at another time, in another time zone and language."""
    path = panel_file(name)
    out = tmp_path / "deep" / "other name"
    env = {"TZ": "Asia/Kathmandu", "LC_ALL": "de_DE.UTF-8", "HOME": str(tmp_path)}
    done = call("make", path, "--out", out, env=env, cwd=tmp_path)
    assert done.returncode == 0, said(done)
    assert tree(out) == tree(made(path))


def test_a_folder_is_replaced_as_a_whole(tmp_path, panel_file, made):
    out = make(fixture_path("panel", "three-way-card"), tmp_path / "job")
    make(fixture_path("panel", "plain-window"), out)
    assert tree(out) == tree(made(panel_file("plain-window")))
    assert [f.name for f in tmp_path.iterdir()] == ["job"], "nothing is left beside it"


def test_json_on_standard_output_is_the_summary(tmp_path):
    panel = fixture_path("panel", "plain-window")
    done = call("make", panel, "--out", tmp_path / "job", "--json")
    assert done.returncode == 0 and done.stdout == (tmp_path / "job" / "job.json").read_text()
    for words in (["check", panel], ["prove", tmp_path / "job"]):
        again = call(*words, "--json")
        assert again.returncode == 0 and again.stdout == done.stdout, words
    assert call("check", panel, "--json").stderr == "", "no complaints about a sound panel"


def test_pictures_are_xml(flat_job):
    pictures = [*flat_job.rglob("*.svg"), *flat_job.rglob("*.html")]
    assert flat_job / "panel.svg" in pictures
    for picture in pictures:
        if picture.suffix == ".svg":
            root = ElementTree.parse(picture).getroot()
            assert root.tag == "{http://www.w3.org/2000/svg}svg", picture
            assert len(list(root.iter())) > 5, picture


def test_pieces_lie_within_the_trim_and_do_not_overlap(flat_job):
    """Every copy of every member, and every blank of infill, once; the cut between neighbours has room."""
    job, files = summary(flat_job), sources(flat_job)
    depth = millimetres(files["panel"]["ground"]["depth"])
    trim = millimetres(files["stock"]["trim"])
    sizes = {(millimetres(b["length"]), millimetres(b["width"])) for b in files["stock"]["blank"]}
    counted = {}
    for setup, strip in flat_runs(job):
        cut = setup["kerf"] or setup["tool_diameter"]
        assert (strip["length"], strip["width"]) in sizes
        face = measured(sources(flat_job, strip["material"])["material"])[1]
        room = box(trim, trim, strip["length"] - trim, strip["width"] - trim).buffer(1e-6)
        pieces = list(pieces_of(job, strip, depth, face))
        for piece in pieces:
            assert room.covers(piece.shape), piece.id
            counted[piece.id] = counted.get(piece.id, 0) + 1
        shapes = [p.shape for p in pieces]
        near = STRtree(shapes).query(shapes, predicate="dwithin", distance=cut - 1e-6)
        assert all(i == j for i, j in near.T), "cuts of neighbours do not touch the other piece"
    quantity = job["panel"]["quantity"]
    right = {m["id"]: quantity for m in job["members"]}
    if files["panel"].get("infill", {}).get("cut") in ("blanks", "outlines"):
        right |= {row["id"]: row["count"] for row in job["infill"]}
    right |= {side["id"]: quantity for side in job["surround"] if "bar" in side}
    assert counted == right


@pytest.mark.parametrize("travel", [[300, 400], [600, 150]])
def test_a_small_bed_cuts_the_reachable_part_of_a_sheet(travel, tmp_path):
    """A sheet may be longer than the travel, if the bed holds it: all programs stay within the travel."""
    bed = {"x": [0, 420], "y": [0, 297]}
    path = write_job(tmp_path / "in", "plain-window", machine={"travel": travel, "bed": bed})
    folder = make(path, tmp_path / "out")
    for setup in summary(folder)["setups"]:
        (x0, y0), (x1, y1) = rs274.read((folder / setup["file"]).read_text()).extent()
        assert 0 <= x0 and x1 <= travel[0] and 0 <= y0 and y1 <= travel[1]


def test_strips_are_counted(flat_job):
    nest = summary(flat_job)["nest"]
    assert nest["used"] == len(nest["strips"]) >= nest["lower_bound"] >= 1
    assert nest["optimal"] == (nest["used"] == nest["lower_bound"])


def test_placements_carry_pieces_to_the_sheet(flat_job):
    """A rotation and a shift (determinant +1); x along, z from the back edge, as the nest has it."""
    job, files = summary(flat_job), sources(flat_job)
    depth = millimetres(files["panel"]["ground"]["depth"])
    members = cut_pieces(job)
    for setup, strip in flat_runs(job):
        face = measured(sources(flat_job, setup["material"])["material"])[1]
        low, high = np.array(setup["stock"]["min"]), np.array(setup["stock"]["max"])
        assert high - low == pytest.approx([strip["length"], strip["width"], face], abs=1e-6)
        load = strip.get("load")
        placements = [p for p in setup["placements"] if p.get("load", load) == load]
        for place, nested in zip(placements, strip["pieces"], strict=True):
            assert place["id"] == nested["id"]
            matrix = np.array(place["to_setup"])
            assert matrix.shape == (3, 4)
            turn = matrix[:, :3]
            assert turn @ turn.T == pytest.approx(np.eye(3), abs=1e-6)
            assert np.linalg.det(turn) == pytest.approx(1, abs=1e-6)
            member = members[place["id"]]
            if shape := member.get("shape"):
                # Front up: as thick as it is deep.
                half = shape.bounds[3] / 2
                ring = [(x, y - half, z) for x, y in shape.exterior.coords for z in (0, face)]
            else:
                shape = side_view(member, member.get("depth", depth), face)
                ring = [(x, y, z) for x, z in shape.exterior.coords for y in (-face / 2, face / 2)]
            points = np.array([matrix @ [*p, 1] for p in ring])
            assert (points >= low - 1e-6).all() and (points <= high + 1e-6).all(), place["id"]
            on_sheet = Polygon(points[::2, :2])
            nest = affinity.translate(shape, nested["x"], nested["y"])
            assert on_sheet.symmetric_difference(nest).area <= 1e-3, place["id"]


def test_every_cut_file_was_replayed(flat_job):
    job = summary(flat_job)
    replayed = {c["where"] for c in job["checks"] if c["id"] == "replay" and c["status"] == "pass"}
    cut = {f["path"] for f in job["files"] if f["path"].split("/")[0] in ("gcode", "dxf")}
    # The text and the pictures beside the drawings are for people, and cut nothing.
    beside = {path for path in cut if path == "dxf/notes.txt" or path.startswith("dxf/") and path.endswith(".svg")}
    assert "dxf/notes.txt" in beside
    cut -= beside
    assert cut and cut <= replayed
    assert {path.rsplit(".")[-1] for path in cut} == {"dxf", "nc"}
    assert all(c["status"] != "fail" for c in job["checks"])
    assert all(math.isfinite(c["value"]) and math.isfinite(c["limit"]) for c in job["checks"])


@pytest.mark.parametrize(
    "words, status",
    [
        (["--help"], 0),
        (["--version"], 0),
        (["new", "square"], 0),
        (["new", "three-way"], 0),
        (["new", "round"], 2),
        ([], 2),
        (["cut"], 2),
        (["make", fixture_path("panel", "plain-window")], 2),
        (["check"], 2),
        (["check", fixture_path("panel", "plain-window"), "--jsno"], 2),
        (["check", fixture_path("panel", "plain-window")], 0),
        (["check", "no-such-panel.toml"], 2),
        (["prove", "no-such-folder"], 2),
    ],
)
def test_exit_statuses(tmp_path, words, status):
    done = call(*words, cwd=tmp_path)
    assert done.returncode == status, said(done)
    assert bool(done.stdout) == (status == 0) and bool(done.stderr) == (status != 0), said(done)
    assert not list(tmp_path.iterdir())


def test_a_failed_check_is_status_1(tmp_path):
    path = write_job(tmp_path / "in", "plain-window", material={"least_web": 22.5})
    done = call("make", path, "--out", tmp_path / "out")
    assert done.returncode == 1 and "web" in done.stderr and not done.stdout, said(done)
    assert not (tmp_path / "out").exists()


def test_what_the_system_refuses_is_status_3(tmp_path):
    """/proc takes no folder from anyone."""
    done = call("make", fixture_path("panel", "plain-window"), "--out", "/proc/lapwright-job")
    assert done.returncode == 3 and done.stderr and not done.stdout, said(done)


def test_new_panels_can_be_checked(tmp_path):
    for layout in ("square", "three-way"):
        path = tmp_path / f"{layout}.toml"
        path.write_text(call("new", layout).stdout)
        done = call("check", path)
        assert done.returncode == 0, said(done)


def test_the_demo_is_made_in_its_own_folder(tmp_path, panel_file, made):
    done = call("demo", cwd=tmp_path)
    assert done.returncode == 0, said(done)
    assert [f.name for f in tmp_path.iterdir()] == ["lapwright-demo"]
    assert tree(tmp_path / "lapwright-demo") == tree(made(panel_file("demo")))
    done = call("demo", "--out", tmp_path / "mine", cwd=tmp_path)
    assert done.returncode == 0 and tree(tmp_path / "mine") == tree(made(panel_file("demo")))
