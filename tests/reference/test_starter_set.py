"""Settings of the built-in machines and materials, worked out again with handbook formulas.

Sources. Feed per tooth fz = vf / (n z), the milling formula of any machining handbook (Machinery's
Handbook, "Estimating speeds and machining power": table feed = feed per tooth x teeth x rev/min), from
memory. Passes: a cut of depth d in steps of at most p takes ceil(d / p) of them. Energy of a beam along
its cut: power / speed (J/mm = W / (mm/s)), plain physics.
"""

import math
import re

import pytest

from workshop import FOLDERS, fixture, make, summary, write_job

MACHINES = sorted(p.stem for p in FOLDERS["machine"].glob("*.toml"))
MATERIALS = sorted(p.stem for p in FOLDERS["material"].glob("*.toml"))
ROUTERS = [m for m in MACHINES if "router" in fixture("machine", m)]
LASERS = [m for m in MACHINES if "laser" in fixture("machine", m)]
ROUTED = [m for m in MATERIALS if "router" in fixture("material", m)]
LASERED = [m for m in MATERIALS if "laser" in fixture("material", m)]


def small_job(tmp_path, machine, material):
    """A square lattice of 2 by 2 cells of a material on a machine; the folder of the job."""
    laser = "laser" in fixture("machine", machine)
    base = "plain-window" if laser else "router-square"
    kind = material.split("-")[0]
    path = write_job(
        tmp_path / "in",
        base,
        panel={
            "ground.face": fixture("material", material)["thickness"],
            "ground.columns": 2, "ground.rows": 2,
            "ground.pitch_across": 41.7, "ground.pitch_up": 43.3,
        },
        machine={"": machine},
        material={"": material},
        stock={"": f"{kind}-{'strips' if kind.endswith('wood') else 'sheets'}"},
    )  # fmt: skip
    return make(path, tmp_path / "out")


def of(job, check):
    return [c for c in job["checks"] if c["id"] == check]


def test_the_set_is_not_empty():
    assert len(ROUTERS) >= 2 and len(LASERS) >= 2 and len(ROUTED) >= 4 and len(LASERED) >= 4


@pytest.mark.parametrize("material", ROUTED)
@pytest.mark.parametrize("machine", ROUTERS)
def test_speeds_feeds_and_passes(tmp_path, machine, material):
    router, cut = fixture("machine", machine)["router"], fixture("material", material)["router"]
    tool = router["tool"]
    thickness = fixture("material", material)["thickness"]

    # The files by themselves: fz = vf / (n z) well within the material's range, not on its edge.
    feed_per_tooth = cut["feed"] / (cut["speed_rpm"] * tool["flutes"])
    least, most = cut["chip_load"]
    assert least * 1.1 < feed_per_tooth < most / 1.1
    assert router["speed_rpm"][0] <= cut["speed_rpm"] <= router["speed_rpm"][1]
    assert cut["pass_depth"] <= tool["diameter"]
    assert tool["flute_length"] > thickness + router["spoil"]
    assert router["safe_height"] > router["clamp_height"]

    # What the program makes of them.
    folder = small_job(tmp_path, machine, material)
    job = summary(folder)
    assert [c["value"] for c in of(job, "chip-load")] == [pytest.approx(feed_per_tooth, abs=1e-6)]
    for setup in job["setups"]:
        text = (folder / setup["file"]).read_text()
        heights = {float(z) for z in re.findall(r"^G1 Z(-?[\d.]+)", text, flags=re.M)}
        # A tab's top is reached from below; every other height is the floor of a pass.
        floors = sorted(heights - {cut["tab_height"]}, reverse=True)
        deepest = floors[-1]
        assert -router["spoil"] <= deepest < 0, "through the stock, into the board as far as allowed"
        depth = thickness - deepest
        passes = math.ceil(depth / cut["pass_depth"] - 1e-9)
        assert len(floors) == passes
        for k, z in enumerate(floors, start=1):
            assert z == pytest.approx(thickness - depth * k / passes, abs=1.1e-3)
        [step] = {c["value"] for c in of(job, "pass-depth")}
        assert step == pytest.approx(depth / passes, abs=1e-6)
        assert step <= cut["pass_depth"] + 1e-9
        # The edge that cuts is long enough for the whole depth, and one millimetre more.
        [flute] = of(job, "flute-length")
        assert flute["limit"] == pytest.approx(depth + 1, abs=1e-6) and flute["status"] == "pass"


@pytest.mark.parametrize("material", LASERED)
@pytest.mark.parametrize("machine", LASERS)
def test_a_beam_brings_the_same_energy_on_every_laser(tmp_path, machine, material):
    laser, cut = fixture("machine", machine)["laser"], fixture("material", material)["laser"]
    folder = small_job(tmp_path, machine, material)
    wanted = cut["watts"] * cut["power_percent"] / 100 / (cut["feed"] / 60)
    for setup in summary(folder)["setups"]:
        text = (folder / setup["file"]).read_text()
        [word] = {float(s) for s in re.findall(r"M[34] S([\d.]+)", text)} - {0.0}
        [feed] = {float(f) for f in re.findall(r"F([\d.]+)", text)}
        power = word / laser["full_power_word"] * laser["watts"]
        assert power / (feed / 60) == pytest.approx(wanted, rel=1e-6)
    [check] = of(summary(folder), "laser-power")
    assert check["value"] == pytest.approx(100 * wanted * cut["feed"] / 60 / laser["watts"], abs=1e-6)


def test_cards_take_energy_by_their_thickness():
    """Of one kind of card, as much is burnt for each square millimetre of cut, whatever the thickness."""
    cards = [m for m in LASERED if m.startswith("card")]
    assert len(cards) == 3
    by_area = []
    for name in cards:
        material = fixture("material", name)
        cut = material["laser"]
        energy = cut["watts"] * cut["power_percent"] / 100 / (cut["feed"] / 60)
        by_area.append(energy / material["thickness"])
    assert max(by_area) < 1.05 * min(by_area)


@pytest.mark.parametrize("kind", ["machine", "material"])
def test_what_is_called_computed_is(kind):
    """Figures that a comment works out: J/mm, a quarter of the feed, half the diameter, chip loads."""
    found = 0
    for path in FOLDERS[kind].glob("*.toml"):
        data = fixture(kind, path.stem)
        for line in path.read_text().splitlines():
            if "(computed: " not in line:
                continue
            found += 1
            key, said = line.split(" = ")[0], line.split("(computed: ")[1]
            figure = re.search(r"([\d.]+) (J/mm|mm with two flutes|mm cutter|, and)", said)
            if key == "power_percent":
                cut = data["laser"]
                want = cut["watts"] * cut["power_percent"] / 100 / (cut["feed"] / 60)
                assert float(figure[1]) == pytest.approx(want, abs=0.005), line
            elif key == "feed":
                cut = data["router"]
                assert float(figure[1]) == pytest.approx(cut["feed"] / (cut["speed_rpm"] * 2), abs=5e-5)
            elif key == "plunge_feed":
                assert data["router"]["plunge_feed"] == data["router"]["feed"] / 4, line
            elif key == "pass_depth":
                assert data["router"]["pass_depth"] == float(figure[1]) / 2, line
            elif key == "safe_height":
                clamps, spare = map(float, re.findall(r"(?:clamp_height|and) (\d+)", said))
                assert clamps == data["router"]["clamp_height"], line
                assert data["router"]["safe_height"] == clamps + spare, line
            else:
                pytest.fail(f"{path.stem}: nobody has worked out {line}")
    assert found >= 2
