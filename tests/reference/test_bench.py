"""Numbers that a hand works to, read from the workshop sheet as a maker reads them and held against job.json.

An inch is 25.4 mm (ISO 31-1, from memory). The sheet is read with html5lib, its pictures with Python's own XML reader.
"""

import html
import itertools
import math
import re
import xml.etree.ElementTree as ET

import html5lib
import pytest

import odd
import workshop

INCH = 25.4
# No sum of lengths and no distance between two marks is off by more, mm; json has six decimals.
SUM = 0.05 + 1e-5
# Pitches that no decimal and no fraction hits, beside the fixtures' own.
JOBS = {
    "check": ("check", {}),
    "demo": ("demo", {}),
    "hexagon": ("hexagon-card", {}),
    "square": ("new-square", {"ground.pitch_across": 66.75, "ground.pitch_up": 200 / 9, "ground.columns": 3}),
    "three-way": ("new-three-way", {"ground.pitch": 31.777}),
    "many": ("new-square", {"ground.pitch_across": 40 / 3, "ground.pitch_up": 50 / 3, "ground.columns": 14}),
}


@pytest.fixture(scope="module", params=itertools.product(JOBS, ["mm", "inch"]), ids="-".join)
def job(request, tmp_path_factory):
    """A job and its sheet: folder, summary, unit, panel as written, and tables by their captions."""
    name, unit = request.param
    base, changes = JOBS[name]
    at = tmp_path_factory.mktemp("bench")
    path = workshop.write_job(at / "in", base, panel={**changes, "sheet": {"units": unit}}, material={"name": "wood"})
    folder = workshop.make(path, at / "out")
    return {
        "folder": folder, "job": workshop.summary(folder), "unit": unit, "panel": workshop.sizes(path)[0],
        "tables": tables(folder),
    }  # fmt: skip


def tables(folder):
    """The tables of a sheet by caption: a list of rows, each by the heads of its columns."""
    tree = html5lib.parse((folder / "sheet.html").read_text(), namespaceHTMLElements=False)
    found = {}
    for table in tree.iter("table"):
        words = lambda cell: "".join(cell.itertext()).strip()
        heads, *rows = [[words(c) for c in row if c.tag in ("th", "td")] for row in table.iter("tr")]
        found[words(table.find("caption"))] = [list(zip(heads, row, strict=True)) for row in rows]
    return found


def table(job, caption):
    (rows,) = [rows for name, rows in job["tables"].items() if name.startswith(caption)]
    return rows


def cell(row, head):
    """What stands below a head, whatever unit is named beside it."""
    return [text for name, text in row if name.split(",")[0] == head]


def read(text, unit):
    """A length in mm as a maker reads it. Decimals in brackets stand beside a fraction that is not near enough."""
    text = text.strip().removesuffix(" mm").removesuffix(" in")
    if unit == "mm":
        return float(text)
    if "(" in text:
        fraction, decimals = text.rstrip(")").split("(")
        assert abs(read(fraction, unit) - float(decimals) * INCH) <= INCH / 128 + 0.0128, "no nearer fraction"
        return float(decimals) * INCH
    parts = [float(a) / float(b or 1) for a, _, b in (word.partition("/") for word in text.split())]
    return sum(parts) * INCH


def test_marks_of_bars_add_up(job):
    """From mark to mark along every class, and from both ends: every distance is true."""
    length_of = {cell(row, "Class")[0]: cell(row, "Length")[0] for row in table(job, "Bars by class")}
    at_of = {}
    for row in table(job, "Notches"):
        at_of.setdefault(cell(row, "Class")[0], []).append(cell(row, "At")[0])
    # Those of a lapped surround stand in a table of their own.
    lapped = [rows for name, rows in job["tables"].items() if name == "Bars of the surround"]
    for row in itertools.chain(*lapped):
        (name,), (length,), (ats,) = (cell(row, head) for head in ("Class", "Length", "Laps at"))
        length_of[name], at_of[name] = length, ats.split(", ")
    assert len(length_of) == len(job["job"]["classes"])
    for row in job["job"]["classes"]:
        true = [0, *(joint["at"] for joint in row["joints"]), row["length"]]
        told = [0, *(read(at, job["unit"]) for at in at_of[row["id"]]), read(length_of[row["id"]], job["unit"])]
        for (a, b), (x, y) in zip(itertools.combinations(true, 2), itertools.combinations(told, 2), strict=True):
            assert abs((b - a) - (y - x)) <= SUM, (row["id"], a, b)


def test_cross_cuts_add_up(job):
    if not job["job"]["sticks"]:
        pytest.skip("no sticks")
    rows = table(job, "Cross-cuts")
    true = [cut for stick in job["job"]["sticks"] for piece in stick["pieces"] for cut in piece["cut"]]
    told = [read(text, job["unit"]) for row in rows for head in ("From", "To") for text in cell(row, head)]
    assert len(told) == len(true)
    for (a, b), (x, y) in zip(itertools.combinations(true, 2), itertools.combinations(told, 2), strict=True):
        assert abs((b - a) - (y - x)) <= SUM


def test_a_pitch_can_be_stepped_off(job):
    """As often as there are columns and rows, and at least along the panel's diagonal."""
    told = {cell(row, "What")[0]: cell(row, "Size")[0] for row in table(job, "Sizes")}
    pitches = {name: text for name, text in told.items() if name.startswith("pitch")}
    keys = {"pitch": "pitch", "pitch across": "pitch_across", "pitch up": "pitch_up"}
    assert pitches and set(pitches) <= set(keys)
    inner = math.hypot(job["job"]["panel"]["inner_width"], job["job"]["panel"]["inner_height"])
    for name, text in pitches.items():
        true = workshop.millimetres(job["panel"]["ground"][keys[name]])
        assert inner / true * abs(read(text, job["unit"]) - true) <= SUM, (name, text)


def test_a_short_number_is_short(job):
    """66.75 reads 66.75 and 60 reads 60: no millimetre in tables of lengths ends in a needless nought."""
    lengths = [text for row in table(job, "Notches") for text in cell(row, "At")]
    assert lengths
    if job["unit"] == "mm":
        assert all(re.fullmatch(r"\d+(\.\d?[1-9])?", text) for text in lengths), lengths
    told = {cell(row, "What")[0]: cell(row, "Size")[0] for row in table(job, "Sizes")}
    across = job["panel"]["ground"].get("pitch_across")
    if across == 66.75:
        assert told["pitch across"] == {"mm": "66.75 mm", "inch": "2 5/8 (2.628) in"}[job["unit"]]


def test_sides_of_the_surround_add_up(job):
    """Outside less inside is what the two mitres take."""
    if job["job"]["surround_stock"] is None:
        pytest.skip("no mitred surround")
    rows = table(job, "Sides of the surround")
    assert len(rows) == len(job["job"]["surround"])
    for row, side in zip(rows, job["job"]["surround"], strict=True):
        long, short = (read(cell(row, head)[0], job["unit"]) for head in ("Outside", "Inside"))
        assert abs(long - side["long"]) <= SUM / 2 and abs(short - side["short"]) <= SUM / 2
        assert abs((long - short) - (side["long"] - side["short"])) <= SUM


def test_inches_are_told_with_thousandths_where_the_fraction_is_off(job):
    """A fraction that stands alone is within 0.05 mm; one with decimals beside it is not within half a thousandth."""
    if job["unit"] == "mm":
        return
    alone = beside = 0
    true = {round(joint["at"], 6) for row in job["job"]["classes"] for joint in row["joints"]}
    for text in {text for row in table(job, "Notches") for text in cell(row, "At")}:
        fraction = text.split(" (")[0]
        near = min(abs(read(text, "inch") - at) for at in true)
        assert near <= INCH / 2000 + 1e-5, text
        if "(" in text:
            beside += 1
            assert min(abs(read(fraction, "inch") - at) for at in true) > INCH / 2000 - 1e-5
        else:
            alone += 1
    assert alone + beside


def picture(job, path):
    root = ET.parse(job["folder"] / path).getroot()
    return [text.text or "" for text in root.iter("{http://www.w3.org/2000/svg}text")]


def test_pictures_follow_the_sheets_unit(job):
    """Every picture that has figures names the sheet's unit, and the panel's dimensions are true in it."""
    word, other = {"mm": ("mm", "inches"), "inch": ("inches", "mm")}[job["unit"]]
    texts = picture(job, "panel.svg")
    assert word in texts and other not in texts
    panel = job["job"]["panel"]
    # A dimension stands along its line: the ground's size, and with the surround on the size over all.
    for mm in (panel["inner_width"], panel["inner_height"], panel["width"], panel["height"]):
        number = re.compile(r"[\d./ ]+(\(\d+\.\d+\))?")
        read_off = [read(text, job["unit"]) for text in texts if number.fullmatch(text) and text.strip()]
        assert min(abs(value - mm) for value in read_off) <= SUM / 2, mm
    for path in sorted((job["folder"] / "pictures").glob("*.svg")):
        words = " ".join(picture(job, path.relative_to(job["folder"])))
        if "Lengths in" in words:
            assert f"Lengths in {word}." in words, path.name
        if job["unit"] == "inch":
            assert not re.search(r"\d mm\b", words), (path.name, words)
    sheet = html.unescape((job["folder"] / "sheet.html").read_text())
    assert f"Figures in the picture are {word}." in sheet and f"Figures in the picture are {other}" not in sheet


def test_what_is_bought_is_told_once(job):
    """Strips and sheets: one line for each wood, section and length, as many as the nest has."""
    rows = [dict(row) for row in table(job, "Strips and sheets")]
    keys = [tuple(v for k, v in row.items() if k not in ("How many", "Called")) for row in rows]
    assert len(set(keys)) == len(keys)
    assert sum(int(row["How many"]) for row in rows) == job["job"]["nest"]["used"]
    # A length is rounded up, by less than a millimetre or 1/16 of an inch.
    step = 1 if job["unit"] == "mm" else INCH / 16
    longs = {strip["length"] for strip in job["job"]["nest"]["strips"]}
    told = [read(row[f"Length, {'mm' if job['unit'] == 'mm' else 'in'}"], job["unit"]) for row in rows]
    assert all(any(-1e-6 <= up - long < step for long in longs) for up in told)


def test_lengths_that_are_bought_are_rounded_up(job):
    stock = job["job"]["surround_stock"]
    if stock is None:
        pytest.skip("no stock of its own")
    (row,) = [row for row in table(job, "By hand") if cell(row, "For")[0].startswith("surround")]
    number, unit = cell(row, "Length")[0].split()[:2]
    step = {"m": 100.0, "ft": INCH * 6}[unit]
    told = float(number) * {"m": 1000.0, "ft": INCH * 12}[unit]
    assert -1e-6 <= told - stock["total"] < step
    assert math.isclose(told / step, round(told / step), abs_tol=1e-6)


@pytest.mark.parametrize("unit", ["mm", "inch"])
@pytest.mark.parametrize("measured", [True, False])
def test_sticks_are_milled_to_the_middle_of_what_is_allowed(measured, unit, tmp_path):
    """Readings are the limits where they differ. Where there is none, the notch is the drawn face and the clearance, and
    the thinnest stick has all of the material's play in it. Depth: 0.05 mm either way of the drawn one, as the README has
    it of check `flush`. The notches take the greatest reading."""
    sheet = {"sheet": {"units": unit}}
    if measured:
        path = odd.measured_sticks(tmp_path / "in", **sheet)
        least, greatest = 3.97, 4.03
    else:
        path = workshop.write_job(tmp_path / "in", "check", panel=sheet)
        play = workshop.fixture("material", "hardwood-4")["play"]
        least, greatest = 4.0 + 0.05 - play, 4.0
    folder = workshop.make(path, tmp_path / "out")
    job = {"tables": tables(folder)}
    rows = table(job, "Milled to size")
    assert rows
    digits, per = (2, 1) if unit == "mm" else (3, INCH)
    shown = lambda mm: f"{mm / per + 1e-9:.{digits}f}"
    for row in rows:
        middle = (least + greatest) / 2
        assert cell(row, "Mill face to") == [f"{shown(middle)} ({shown(least)} to {shown(greatest)})"]
        assert cell(row, "Mill depth to") == [f"{shown(12)} ({shown(11.95)} to {shown(12.05)})"]
    widths = {round(n["width"], 6) for s in workshop.summary(folder)["sticks"] for n in s["notches"]}
    assert widths == {round(greatest + 0.05, 6)}


@pytest.mark.parametrize("even", [True, False])
def test_a_story_stick_is_checked_against_itself(even, tmp_path):
    """Said where joints lie one step apart, three or more of them, and not where no bar has such joints."""
    families = [
        {"name": "upright", "direction": 90, "offsets": [0, 40, 80] if even else [0, 31, 80], "face": 1.5},
        {"name": "level", "direction": 0, "offsets": [0, 27, 71], "face": 1.5},
    ]
    ground = {"layout": "free", "depth": 9, "width": 80, "height": 71, "family": families}
    sides = {side: {"clear": 8} for side in ("left", "right", "bottom", "top")}
    panel = {"ground": ground, "outline": sides}
    folder = workshop.make(workshop.write_job(tmp_path / "in", "plain-window", panel=panel), tmp_path / "out")
    text = html.unescape((folder / "sheet.html").read_text())
    assert ("every mark must meet the next" in text) == even
