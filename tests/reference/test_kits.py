"""Kits and batches: what the panel file asks for, counted again in nests, programs, drawings and labels."""

import csv
import io
import json
from collections import Counter
from xml.etree import ElementTree

import ezdxf
import pytest
from workshop import call, make, said, sources, summary, write_job

SVG = "{http://www.w3.org/2000/svg}"
# Quantity, panels in a kit, spares in each kit, spares for all.
CASES = [(6, 2, 1, 3), (5, 5, 2, 0), (7, 1, 0, 1), (4, 1, 3, 0)]
BASES = ["plain-window", "hemp-leaf-card", "router-square"]


def kits_job(folder, base, quantity, panels, spares, common):
    kits = {"panels": panels, "spares": spares, "common_spares": common}
    stock, machine = {"blank": [{"name": "large", "length": 380, "width": 280}]}, {}
    if base == "router-square":
        stock = {"blank": [{"name": "large", "length": 900, "width": 500}]}
        machine = {"bed": {"x": [0, 900], "y": [0, 500]}}
    panel = {"quantity": quantity, "kits": kits}
    return write_job(folder, base, panel=panel, machine=machine, stock=stock)


def table(path):
    return list(csv.DictReader(io.StringIO(path.read_bytes().decode(), newline=""), strict=True))


@pytest.fixture(scope="module", params=[(b, c) for b in BASES for c in CASES], ids=str)
def kits(request, tmp_path_factory):
    base, case = request.param
    folder = tmp_path_factory.mktemp("kits")
    return base, case, make(kits_job(folder, base, *case), folder / "out")


def test_every_sum_holds(kits):
    base, (quantity, panels, spares, common), folder = kits
    job = summary(folder)
    count = quantity // panels
    assert (job["kits"]["count"], job["kits"]["panels"]) == (count, panels)
    extra = count * spares + common
    # One panel's own: a member a class, pieces in cells.
    one = Counter(m["class"] for m in job["members"])
    inside = Counter(p["id"] for c in job["cells"] for p in c["pieces"])
    by_hand = sources(folder)["panel"].get("infill", {}).get("cut", "by-hand") == "by-hand"
    wanted = {id: n * quantity + extra for id, n in one.items()}
    if not by_hand:
        wanted |= {id: n * quantity + extra for id, n in inside.items()}
    classes = {m["id"]: m["class"] for m in job["members"]}
    classes |= {row["id"]: row["id"] for row in job["infill"]}
    nested = Counter(classes[p["id"]] for s in job["nest"]["strips"] for p in s["pieces"])
    placed = Counter()
    for setup in job["setups"]:
        for p in setup["placements"]:
            # A placement without a load lies in every run of its program.
            placed[classes[p["id"]]] += 1 if "load" in p else setup["loads"]
    assert nested == placed == Counter(wanted)
    # Counts are for the whole quantity without spares, which are told apart.
    for row, of in [(r, one) for r in job["classes"]] + [(r, inside) for r in job["infill"]]:
        assert row["count"] == of[row["id"]] * quantity
        assert row["spares"] == extra
    for row in job["kits"]["pieces"]:
        of = {"bar": one, "infill": inside}.get(row["kind"])
        if of is None:
            assert row["kind"] == "surround"
            assert (row["cut"], row["spares_in_all"]) == (False, 0)
            continue
        assert row["per_kit"] == of[row["id"]] * panels
        assert row["in_all"] == row["per_kit"] * count
        assert row["spares_per_kit"] == spares
        assert row["spares_in_all"] == extra
        assert row["cut"] == (row["kind"] == "bar" or not by_hand)
    told = Counter({r["id"]: r["in_all"] + r["spares_in_all"] for r in job["kits"]["pieces"] if r["cut"]})
    assert told == nested


def test_drawings_hold_every_piece(kits):
    """ezdxf: outlines of finished pieces in all drawings of sheets."""
    base, _, folder = kits
    job = summary(folder)
    layer = sources(folder)["post_processor"]["dxf"]["outline"]["name"]
    outlines = 0
    for setup in job["setups"]:
        stem = setup["file"].removeprefix("gcode/").removesuffix(".nc")
        space = ezdxf.readfile(folder / "dxf" / f"{stem}-drawn-size.dxf").modelspace()
        own = sum(e.closed and e.dxf.layer == layer for e in space.query("LWPOLYLINE"))
        outlines += own * setup["loads"]
    assert outlines == sum(r["in_all"] + r["spares_in_all"] for r in job["kits"]["pieces"] if r["cut"])


def test_cut_list_and_table_of_labels(kits):
    base, (quantity, panels, spares, common), folder = kits
    job = summary(folder)
    rows = table(folder / "members.csv")
    for row in rows:
        assert (int(row["per_kit"]), int(row["in_all"])) == (panels, quantity)
    cut = Counter()
    for row in rows:
        cut[row["class"]] += int(row["in_all"]) + int(row["spares"])
    pieces = {r["id"]: r for r in job["kits"]["pieces"]}
    bars = {id: r for id, r in pieces.items() if r["kind"] == "bar"}
    assert cut == Counter({id: r["in_all"] + r["spares_in_all"] for id, r in bars.items()})

    labels = table(folder / "labels.csv")
    of_kits = [r for r in labels if r["label"] == "kit"]
    bundles = {r["piece"]: r for r in labels if r["label"] == "bundle"}
    count = quantity // panels
    assert len(of_kits) == count * len(pieces)
    assert {int(r["kit"]) for r in of_kits} == set(range(1, count + 1))
    assert set(bundles) == set(pieces)
    for id, row in pieces.items():
        mine = [r for r in of_kits if r["piece"] == id]
        assert {int(r["count"]) for r in mine} == {row["per_kit"]}
        assert sum(int(r["count"]) for r in mine) == int(bundles[id]["count"]) == row["in_all"]
        in_kits = sum(int(r["spares"]) for r in mine)
        kept = common if row["spares_in_all"] else 0
        assert in_kits + kept == int(bundles[id]["spares"]) == row["spares_in_all"]
        assert float(bundles[id]["length_mm"]) == row["length"]


def test_pages_of_labels(kits):
    """A4 (ISO 216), every kit and class once, nothing off the page."""
    base, (quantity, panels, spares, common), folder = kits
    job = summary(folder)
    heads = []
    for kind in ("kits", "bundles"):
        pages = sorted((folder / "labels").glob(f"{kind}-*.svg"))
        assert pages
        for page in pages:
            root = ElementTree.parse(page).getroot()
            assert (root.get("width"), root.get("height")) == ("210mm", "297mm")
            texts = list(root.iter(f"{SVG}text"))
            for text in texts:
                assert 0 < float(text.get("x")) < 210 and 0 < float(text.get("y")) < 297
            heads += [t.text for t in texts if t.get("font-weight") == "bold"]
    count = quantity // panels
    wanted = [f"Kit {n} of {count}" for n in range(1, count + 1)]
    assert heads == wanted + [r["id"] for r in job["kits"]["pieces"]]


def test_proven_and_the_same_twice(tmp_path):
    path = kits_job(tmp_path, "hemp-leaf-card", 6, 2, 1, 3)
    one, two = make(path, tmp_path / "one"), make(path, tmp_path / "two")
    files = sorted(p.relative_to(one) for p in one.rglob("*") if p.is_file())
    assert files == sorted(p.relative_to(two) for p in two.rglob("*") if p.is_file())
    for file in files:
        assert (one / file).read_bytes() == (two / file).read_bytes(), file
    done = call("prove", one)
    assert done.returncode == 0, said(done)
    (one / "labels.csv").write_bytes((one / "labels.csv").read_bytes().replace(b"kit,1,", b"kit,9,", 1))
    assert call("prove", one).returncode == 1


def test_without_kits_nothing_changes(tmp_path):
    plain = make(write_job(tmp_path / "a", "plain-window"), tmp_path / "plain")
    job = summary(plain)
    assert job["kits"] is None
    assert all(c["spares"] == 0 for c in job["classes"])
    assert not (plain / "labels").exists() and not (plain / "labels.csv").exists()


def test_a_lapped_surround_has_spares(tmp_path):
    surround = {"width": 1.5, "cut": "laps"}
    kits = {"panels": 2, "spares": 1, "common_spares": 1}
    path = write_job(tmp_path, "plain-window", panel={"quantity": 4, "kits": kits, "surround": surround})
    done = call("check", path, "--json")
    assert done.returncode == 0, said(done)
    job = json.loads(done.stdout)
    rows = [r for r in job["kits"]["pieces"] if r["kind"] == "surround"]
    assert rows and all(r["cut"] and r["spares_in_all"] == 3 for r in rows)
    sides = {s["id"]: s["class"] for s in job["surround"]}
    nested = Counter(sides[p["id"]] for s in job["nest"]["strips"] for p in s["pieces"] if p["id"] in sides)
    assert nested == Counter({r["id"]: r["in_all"] + 3 for r in rows})


@pytest.mark.parametrize(
    "base, changes, right",
    [
        ("plain-window", {"quantity": 10, "kits": {"panels": 3}}, "quantity = 9 or 12"),
        ("plain-window", {"quantity": 2, "kits": {"panels": 3}}, "quantity = 3"),
        ("plain-window", {"kits": {"spares": -1}}, "from 0 to 1000"),
        ("plain-window", {"kits": {"panels": 0}}, "panels"),
        ("plain-window", {"kits": {"spare": 1}}, "spares"),
        ("check", {"kits": {"spares": 1}}, "sticks.spares"),
        ("check", {"quantity": 3, "kits": {"panels": 2, "common_spares": 1}}, "sticks.spares"),
    ],
)
def test_what_cannot_be_is_told(base, changes, right, tmp_path):
    done = call("check", write_job(tmp_path, base, panel=changes))
    assert done.returncode == 2, said(done)
    assert right in done.stderr, said(done)
    assert "panel.toml:" in done.stderr
