"""Stock as measured: what readings of faces and depths do to notches, gaps, sections and checks.

Sources: notch = greatest reading + clearance and gap by the least is the project's rule, worked out here
with plane geometry. A bar of face f in a notch w wide, crossing at t, stands (w - f) / (2 sin t) off each
wall along the notched bar. Of a stick floored from both edges, each floor at its height above the bed
under the other edge, the wood between the floors is (floor a + floor b - what the stick measures).
"""

import math
import random

import pytest

from workshop import call, check, said, write_job

FACES = [4.02, 3.98, 3.99, 4.03, 4.0, 4.01, 3.97, 4.0, 4.02, 3.99]
DEPTHS = [12.01, 11.98, 12.0, 12.02, 12.0, 11.99, 12.01, 12.0, 12.03, 12.0]


def of(job, name):
    return [c for c in job["checks"] if c["id"] == name]


def readings(values):
    """Ten readings in some order, the least and the greatest alone, in that order."""
    shuffled = list(values)
    random.Random(7).shuffle(shuffled)
    return {"listed": list(values), "shuffled": shuffled, "two": [min(values), max(values)]}


@pytest.mark.parametrize("how", ["listed", "shuffled", "two"])
def test_flat_notches_take_the_greatest_and_gaps_the_least(tmp_path, how):
    path = write_job(tmp_path, "router-square", material={"thickness": readings(FACES)[how]})
    job = check(path)
    least, greatest, clearance = min(FACES), max(FACES), 0.05
    widths = {j["width"] for m in job["members"] for j in m["joints"]}
    assert sorted(widths) == [pytest.approx(greatest + clearance)]
    meant = (greatest + clearance - least) / 2
    # The tool's relief opens the wall by its radius where a corner is; that gap is the greatest.
    assert job["dry_fit"]["largest_gap_mm"] == pytest.approx(meant + 1.5, abs=0.011)
    for entry in job["stock_measured"]:
        assert entry["face"] == [least, greatest]
        assert entry["depth"] == [12, 12], "cut by the program"
    spread = of(job, "spread")
    assert len(spread) == 2
    for c in spread:
        assert c["value"] == pytest.approx(clearance + greatest - least)
        assert c["limit"] == 0.15 and c["status"] == "pass"


@pytest.mark.parametrize("how", ["listed", "shuffled", "two"])
def test_sticks_take_the_greatest_and_gaps_the_least(tmp_path, how):
    milled = [{"face": readings(FACES)[how], "depth": readings(DEPTHS)[how]}]
    job = check(write_job(tmp_path, "check", material={"milled": milled}))
    least, greatest, clearance = min(FACES), max(FACES), 0.05
    for member in job["members"]:
        for joint in member["joints"]:
            assert joint["width"] == pytest.approx(greatest + clearance)
            run = (greatest + clearance) / math.sin(math.radians(60))
            assert joint["run"] == pytest.approx(run, abs=1e-6)
    gap = (greatest + clearance - least) / 2 / math.sin(math.radians(60))
    # As cut: the program's three decimals move a wall by up to 0.0005 in x and in y.
    assert job["dry_fit"]["largest_gap_mm"] == pytest.approx(gap, abs=1e-3)
    for entry in job["stock_measured"]:
        assert entry["face"] == [least, greatest]
        assert entry["depth"] == [min(DEPTHS), max(DEPTHS)]


def test_a_thick_stick_takes_wood_from_middle_members_alone(tmp_path):
    """12 deep, three to a joint: outer members keep 4 above their deepest floor, middle ones
    8 + 8 - measured."""
    for thickest in (12.0, 12.01, 12.05):
        milled = [{"face": 4, "depth": [11.97, thickest]}]
        path = write_job(tmp_path / str(thickest), "check", material={"milled": milled})
        job = check(path)
        [section] = of(job, "section")
        assert section["value"] == pytest.approx(8 + 8 - thickest)
    # Half-laps keep half the drawn depth, whatever the sticks measure.
    edge_up = {"cut.method": "edge-up"}
    milled = [{"face": 4, "depth": [11.9, 12.2]}]
    path = write_job(tmp_path / "half", "router-square", panel=edge_up, material={"milled": milled})
    job = check(path)
    [section] = of(job, "section")
    assert section["value"] == pytest.approx(6)
    assert {c["status"] for c in of(job, "flush")} == {"warn"}
    assert {c["status"] for c in of(job, "stick-depth")} == {"pass"}


@pytest.mark.parametrize(
    "depth, status",
    [([11.95, 12.05], 0), ([11.949, 12.0], 1), ([12.0, 12.051], 1), (12.05, 0), (12.051, 1)],
)
def test_sticks_that_are_off_are_refused(tmp_path, depth, status):
    path = write_job(tmp_path, "check", material={"milled": [{"face": 4, "depth": depth}]})
    done = call("check", path)
    assert done.returncode == status, said(done)
    if status:
        assert "stick-depth" in done.stderr and "planed" not in done.stdout
        assert "plane the sticks" in done.stderr, said(done)


@pytest.mark.parametrize("face, status", [(4.3, 0), (3.7, 0), (4.301, 2), (3.699, 2)])
def test_a_drawn_face_far_from_the_sticks_is_an_error(tmp_path, face, status):
    path = write_job(tmp_path, "check", material={"milled": [{"face": face, "depth": 12}]})
    done = call("check", path)
    assert done.returncode == status, said(done)
    if status:
        assert "face = 4" in done.stderr and "the sticks have measured" in done.stderr


def test_every_family_takes_the_sticks_nearest_to_its_face(tmp_path):
    faces = {"rising": 4, "upright": 5, "falling": 4}
    milled = [{"face": [5.0, 5.04], "depth": 12}, {"face": [3.95, 4.01], "depth": [11.99, 12.0]}]
    path = write_job(
        tmp_path,
        "check",
        panel={"ground.face": None, "ground.faces": faces},
        material={"milled": milled},
    )
    job = check(path)
    measured = {entry["family"]: entry["face"] for entry in job["stock_measured"]}
    assert measured == {"rising": [3.95, 4.01], "upright": [5.0, 5.04], "falling": [3.95, 4.01]}


def test_sticks_not_measured_are_as_drawn(tmp_path):
    job = check(write_job(tmp_path, "check", panel={"ground.face": 4.37, "ground.depth": 13.1}))
    for entry in job["stock_measured"]:
        assert entry["face"] == [4.37, 4.37] and entry["depth"] == [13.1, 13.1]
    assert not of(job, "stick-depth") and not of(job, "spread") and not of(job, "flush")
