"""Setups of edge-up jobs: the way from the bench to every stick by gangs.py, against `to_setup`; and what the
programs cut, swept with shapely, against the notches of the sticks.

Source of the rules: the project's design, section 3, edge-up.
"""

import copy
import itertools
import math
import re
from collections import Counter
from dataclasses import replace

import pytest
from shapely.geometry import LineString, Polygon, box
from shapely.ops import unary_union

import gangs as bench
import ground as reference
import odd
import rs274
import sticks as rules
from sweeps import REPLAY, SPECK, paths, swept
from workshop import call, make, said, sizes, summary, write_job

JOBS = ["check", *odd.EDGE_UP, *odd.MEASURED]


class Work:
    def __init__(self, path, folder):
        self.panel, self.material = sizes(path)
        self.job = summary(folder)
        self.folder = folder
        self.gangs = bench.gangs(folder)
        self.members = {}
        for m in self.job["members"]:
            self.members.setdefault(m["class"], []).append(m)

    def sticks(self, name):
        """The sticks of a class."""
        return [s for s in self.job["sticks"] if s["class"] == name]


@pytest.fixture(scope="module", params=JOBS)
def work(request, panel_file, made):
    path = panel_file(request.param)
    return Work(path, made(path))


def seat_of(gang, matrix):
    """The place in the gang of what to_setup puts there."""
    seat = gang.side * matrix[1][3] / gang.face - 0.5
    assert abs(seat - round(seat)) < 1e-5
    return round(seat)


def determinant(m):
    return (
        m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1])
        - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
        + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0])
    )


def misplaced(gang):
    """Places whose to_setup is not the way that gangs.py works out."""
    found = []
    for place in gang.setup["placements"]:
        matrix = place["to_setup"]
        assert len(matrix) == 3 and all(len(row) == 4 for row in matrix)
        seat = seat_of(gang, matrix)
        for point in [(0, 0, 0), (100.3, 0, 0), (0, 1.7, 0), (0, 0, 9.1), (57.1, -1.3, 4.9)]:
            told = [sum(a * b for a, b in zip(row, (*point, 1))) for row in matrix]
            if math.dist(told, gang.carried(seat, point)) > 1e-4:
                found.append((place["id"], seat, point))
                break
    return found


def test_to_setup_is_the_way_of_the_bench(work):
    for gang in work.gangs:
        assert gang.setup["placements"]
        for place in gang.setup["placements"]:
            # A rotation: rows of length 1, square to each other, right-handed.
            m = place["to_setup"]
            assert determinant(m) == pytest.approx(1, abs=1e-9)
            for i in range(3):
                for j in range(3):
                    dot = sum(a * b for a, b in zip(m[i][:3], m[j][:3]))
                    assert dot == pytest.approx(1.0 if i == j else 0.0, abs=1e-9)
        assert misplaced(gang) == []


def test_a_wrong_stagger_is_not_the_way_of_the_bench(work):
    """The comparison above can fail."""
    askew = 0
    for gang in bench.gangs(work.folder, sign=-1):
        if abs(gang.fence - 90) > 1:
            assert len(misplaced(gang)) == len(gang.setup["placements"])
            askew += 1
        elif gang.stick["ends"][0]["shape"] == "square":
            assert misplaced(gang) == []
    assert askew or work.panel["name"] == "odd two faces"


def test_every_stick_lies_in_every_clamping_once(work):
    """Each with its spares; the outermost two places of a load hold spares or dummies."""
    for gang in work.gangs:
        wanted = Counter()
        for stick in work.sticks(gang.stick["class"]):
            wanted[stick["id"]] += stick["count"] + stick["spares"]
        assert Counter(p["id"] for p in gang.setup["placements"]) == wanted
        places = [(p["load"], seat_of(gang, p["to_setup"])) for p in gang.setup["placements"]]
        assert len(set(places)) == len(places), "one stick in a place"
        outer = [(load, seat) for load, seat in places if seat in (0, gang.seats - 1)]
        spares = sum(s["spares"] for s in work.sticks(gang.stick["class"]))
        assert len(outer) <= spares
        assert {load for load, _ in places} == set(range(1, gang.setup["loads"] + 1))
        assert all(0 <= seat < gang.seats for _, seat in places)


def test_datum_ends_touch_the_fence(work):
    """The fence stands at its direction through x = y = 0; a point lies on it, and of a square end the
    corner that comes first, so that nothing of a stick lies behind it. Stick 0 lies along the rail's face."""
    for gang in work.gangs:
        t = math.radians(gang.fence)
        end = rules.datum_end(gang.stick)
        for i in range(gang.seats):
            x, y = gang.datum(i)
            # Away from the fence is to its right.
            away = [(x + a) * math.sin(t) - (y + b) * math.cos(t) for a, b in end.exterior.coords]
            assert min(away) == pytest.approx(0, abs=1e-9)
        ys = [y for i in range(gang.seats) for y in gang.strip(i).bounds[1::2]]
        assert (min(ys) if gang.fence > 90 + 1e-6 else max(ys)) == pytest.approx(0, abs=1e-9)
        assert max(map(abs, ys)) == pytest.approx(gang.seats * gang.face)


def test_one_clamping_for_each_direction_in_each_edge(work):
    """The fewest that a fence in one direction allows."""
    for name in {s["class"] for s in work.job["sticks"]}:
        mine = [g for g in work.gangs if g.stick["class"] == name]
        ways = [(g.edge, round(g.fence, 4)) for g in mine]
        needed = {(n[1], round(n[2], 4)) for n in rules.rows(mine[0].stick["notches"])}
        assert len(ways) == len(set(ways)) and set(ways) == needed


def effort(order):
    """What an order of clampings costs, (class, edge, fence, deepest slot) each: fences put up, sticks of a class
    turned over, and shallow slots of a class that come after deep ones."""
    fences = sum(n == 0 or order[n - 1][2] != one[2] for n, one in enumerate(order))
    turnings = late = 0
    for name in {one[0] for one in order}:
        mine = [one for one in order if one[0] == name]
        turnings += sum(a[1] != b[1] for a, b in itertools.pairwise(mine))
        late += sum(a[3] > b[3] + 1e-6 for a, b in itertools.combinations(mine, 2))
    return fences, turnings, late


def orders(clampings):
    """Every order in which each fence is put up once; classes against one fence one after the other, for they
    do not bear on each other."""
    fences = sorted({c[2] for c in clampings})
    for sequence in itertools.permutations(fences):
        groups = []
        for fence in sequence:
            for name in sorted({c[0] for c in clampings}):
                groups.append(list(itertools.permutations(
                    [c for c in clampings if c[0] == name and c[2] == fence]
                )))  # fmt: skip
        for choice in itertools.product(*groups):
            yield [c for group in choice for c in group]


def clampings(work):
    return [
        (g.stick["class"], g.edge, round(g.fence, 4), max(n[4] for n in bench.own_notches(g)))
        for g in work.gangs
    ]  # fmt: skip


def test_fewest_fences_then_fewest_turnings_then_shallow_slots_first(work):
    """Against every other order."""
    mine = clampings(work)
    assert effort(mine) == min(effort(order) for order in orders(mine))


def test_a_worse_order_is_seen(panel_file, made):
    """The comparison above can fail: clampings of both fences in turn, and the other way round."""
    path = panel_file("odd-eight-point")
    mine = clampings(Work(path, made(path)))
    assert effort(sorted(mine, key=lambda c: (c[0], c[1], c[2]))) > effort(mine)
    assert effort(mine[::2] + mine[1::2]) > effort(mine)


def test_shallow_slots_come_first(work):
    for gang in work.gangs:
        floors = []
        for stretch in paths(gang.program):
            # A slot's passes go down; each slot ends at its floor.
            if floors and stretch.height < floors[-1]:
                floors[-1] = stretch.height
            elif not floors or stretch.height > floors[-1]:
                floors.append(stretch.height)
        assert floors and floors == sorted(floors, reverse=True)


def test_programs_cut_the_notches_of_every_stick(work):
    for gang in work.gangs:
        levels = gang.levels()
        for i in range(gang.seats):
            assert bench.faults(gang, levels, i) == [], (gang.setup["file"], gang.edge, i)


def test_all_clampings_together_cut_all_notches(work):
    """Every notch of a stick belongs to one clamping."""
    for name in {s["class"] for s in work.job["sticks"]}:
        mine = [g for g in work.gangs if g.stick["class"] == name]
        cut = [n for g in mine for n in bench.own_notches(g)]
        assert sorted(cut) == sorted(rules.rows(mine[0].stick["notches"]))


def test_sticks_are_marked_where_it_does_not_show(work):
    """Each stick has a mark: in wood that is cut off or trimmed away, or in the edge that ends at the back of
    every member that its first piece becomes."""
    for name in {s["class"] for s in work.job["sticks"]}:
        assert_hidden(work, [g for g in work.gangs if g.stick["class"] == name])


def assert_hidden(work, mine):
    ground = reference.Ground(work.panel, work.material)
    marked = 0
    for gang in mine:
        levels = gang.levels()
        for mark in bench.marks(gang, gang.removed(1, levels)[-1:]):
            marked += 1
            from_front = [(x, y if gang.edge == "front" else -y) for x, y in mark.exterior.coords]
            for stick in work.sticks(gang.stick["class"]):
                for piece in stick["pieces"]:
                    for member in work.members[piece["class"]]:
                        kept = rules.kept_in_stick(member, piece, ground)
                        over, _ = rules.both_turns(member["turn"], piece["turn"])
                        at_back = (gang.edge == "back") != over
                        touched = Polygon(from_front).intersection(kept).area > SPECK
                        assert at_back or not touched, (stick["id"], member["id"])
    notches = rules.rows(mine[0].stick["notches"])
    swap = {"front": "back", "back": "front"}
    over = sorted((n[0], swap[n[1]], *n[2:]) for n in notches)
    alike = over == sorted(notches)
    assert marked == (2 if alike and marked == 2 else 1)


def test_a_mark_on_a_kept_edge_is_seen(panel_file, made):
    """The check above can fail: members that reached further back would show it."""
    path = panel_file("check")
    work = Work(path, made(path))
    mine = [g for g in work.gangs if g.stick["class"] == "stick-1"]
    assert_hidden(work, mine)
    for stick in work.job["sticks"]:
        for piece in stick["pieces"]:
            piece["cut"] = [c - 20 for c in piece["cut"]]
    with pytest.raises(AssertionError):
        assert_hidden(work, mine)


def test_without_overhang_marks_do_not_show_either(tmp_path):
    """Before the slanting bars there is wood that is cut off. Hardly any is before the uprights, middle
    members that are notched from both edges: the mark goes into the edge that ends at the back."""
    sides = dict.fromkeys(("left", "right", "bottom", "top"), {"clear": 14.7})
    ends = {"sticks.lead": 66, "sticks.tail": 30, "sticks.ends": {"upright": 48}}
    panel = {"outline": sides, "ground.columns": 3, **ends}
    path = write_job(tmp_path / "a", "check", panel=panel)
    work = Work(path, make(path, tmp_path / "out"))
    for name in {s["class"] for s in work.job["sticks"]}:
        assert_hidden(work, [g for g in work.gangs if g.stick["class"] == name])
    upright = [g for g in work.gangs if g.stick["families"] == ["upright"]]
    for gang in upright:
        removed = gang.removed(1, gang.levels())
        assert len(bench.marks(gang, removed[-1:])) == (1 if gang.edge == "back" else 0)


def test_nowhere_to_put_a_mark_is_refused(tmp_path):
    """Slanting bars turn either edge to the front: with nothing cut off before them there is no place."""
    sides = dict.fromkeys(("left", "right", "bottom", "top"), {"clear": 14.7})
    panel = {"outline": sides, "ground.columns": 3, "ground.rows": 2, "sticks.ends": None}
    done = call("check", write_job(tmp_path / "a", "check", panel=panel))
    assert done.returncode == 1, said(done)
    assert "mark-room" in done.stderr and "a longer lead" in done.stderr, said(done)


def datums(work):
    return [s for s in work.job["setups"] if s["kind"] == "datum"]


def test_faces_are_milled_in_their_directions(work):
    """Rail and fence from one program: the cutter runs along y = 0 and along the line through x = y = 0, behind
    neither, and cuts all of the height over the longest and the widest gang that the fence serves. The rest of
    what a face must be is in test_corner.py."""
    assert sorted(d["fence"] for d in datums(work)) == sorted({g.fence for g in work.gangs})
    for datum in datums(work):
        program = rs274.read((work.folder / datum["file"]).read_text())
        radius, t = datum["tool_diameter"] / 2, math.radians(datum["fence"])
        stretches = paths(program)
        served = [g for g in work.gangs if g.fence == datum["fence"]]
        side = served[0].side
        width = max(g.seats * g.face for g in served)
        long = max(g.stick["length"] for g in served)
        through = [p for p in stretches if p.height <= bench.STEP]
        assert min(p.height for p in through) < 0
        region = swept(through, radius)
        behind = [x * math.sin(t) - y * math.cos(t) for x, y in region.exterior.coords]
        assert min(behind) == pytest.approx(0, abs=1.5e-3)
        line = [(s * math.cos(t) + d * math.sin(t), s * math.sin(t) - d * math.cos(t))
                for s, d in [(0, REPLAY), (side * width / math.sin(t), REPLAY)]]  # fmt: skip
        assert region.covers(LineString(line))
        # The rail stands on the other side of y = 0 from the gang; all of its wood, the fence's end apart.
        [rail] = datum["rails"]
        low, high = rail["min"][1], rail["max"][1]
        assert (high if side > 0 else low) == 0 and high - low >= 30
        wood = box(rail["min"][0], low, rail["max"][0], high)
        assert region.intersection(wood).area < 1.5e-3 * long
        assert region.covers(LineString([(rail["min"][0], side * REPLAY), (long, side * REPLAY)]))
        assert rail["max"][0] >= long


# In so long a stretch of a rail's face half must stand, and so much where a stick begins and ends (mm).
STRETCH, WHOLE = 100.0, 20.0


def openings(gang):
    """[(from, to)] along the rail's face that a gang's program sweeps; rails are lower than the sticks, so that a
    mark hardly reaches them."""
    face = LineString([(-1000, 0), (10000, 0)])
    low = [p for p in paths(gang.program) if p.height < gang.depth - bench.MARK - 2 * bench.STEP]
    cut = face.intersection(swept(low, gang.radius))
    return [g.bounds[::2] for g in getattr(cut, "geoms", [cut]) if g.length > 1e-6]


def serves(opened, low, high):
    """Whether a rail's face serves a gang that lies along it from low to high."""
    gone = unary_union([LineString([(a, 0), (b, 0)]) for a, b in opened])

    def lost(a, b):
        return gone.intersection(LineString([(a, 0), (b, 0)])).length

    if lost(low, low + WHOLE) > 2e-3 or lost(high - WHOLE, high) > 2e-3:
        return False
    stretch = min(STRETCH, high - low)
    starts = [min(max(s, low), high - stretch) for a, b in opened for s in (a, b - stretch)]
    return all(lost(s, s + stretch) <= stretch / 2 + 2e-3 for s in starts)


def test_rails_serve_while_enough_of_their_face_stands():
    """The rule itself: half of every 100, and the first and last 20."""
    assert serves([], 5, 455) and serves([(30, 80)], 5, 455) and not serves([(30, 80.1)], 5, 455)
    assert not serves([(30, 50), (60, 80), (100, 111)], 5, 455)
    assert serves([(25, 26)], 5, 455) and not serves([(24, 26)], 5, 455)
    assert serves([(430, 435)], 5, 455) and not serves([(430, 435.1)], 5, 455)


def test_a_datum_is_milled_whenever_its_battens_are_put_up(work):
    """As often as the order of work comes to its direction, and for each fresh rail; the pictures tell where the
    battens stay and until when."""
    order = work.gangs
    loads, stood, opened = Counter(), None, []
    fresh = []
    for gang in order:
        [datum] = [d for d in datums(work) if d["fence"] == gang.fence]
        low = datum["rails"][0]["min"][0]
        if stood != gang.fence or not serves(opened, low, gang.stick["length"]):
            fresh.append("battens" if stood != gang.fence else "rail")
            loads[gang.fence] += 1
            opened = []
        else:
            fresh.append(None)
        stood = gang.fence
        opened += openings(gang)
    assert {d["fence"]: d["loads"] for d in datums(work)} == loads
    for n, (gang, new) in enumerate(zip(order, fresh), 1):
        picture = (work.folder / f"pictures/clamping-{n:02}.svg").read_text()
        told = " ".join(re.sub(r"<[^>]*>", " ", picture).split())
        [datum] = [d for d in datums(work) if d["fence"] == gang.fence]
        assert (f"Datum: run {datum['file']}" in told) == (new is not None), n
        assert ("Put a fresh one in its place" in told) == (new == "rail"), n
        if new:
            last = n
            while last < len(order) and fresh[last] is None:
                last += 1
            assert f"Neither batten is moved until clamping {last} is cut." in told


def skew(gangs):
    return [g for g in gangs if abs(g.fence - 90) > 1]


def test_a_wrong_sign_of_the_stagger_is_seen(panel_file, made):
    """In the test's own way to the sticks: no stick of a skew gang comes out right."""
    for name in ("check", "odd-diamond"):
        gangs = skew(bench.gangs(made(panel_file(name)), sign=-1))
        assert gangs
        for gang in gangs:
            levels = gang.levels()
            assert all(bench.faults(gang, levels, i) for i in range(gang.seats)), gang.setup["file"]


def test_a_gang_turned_as_a_block_is_seen(panel_file, made):
    """Cut with its other hand: programs with y and the stagger the other way round, as of a gang that was
    turned over whole, and notches of the other hand."""
    for name in ("check", "odd-diamond"):
        for gang in skew(bench.gangs(made(panel_file(name)))):
            hand = copy.deepcopy(gang.stick)
            for n in hand["notches"]:
                n["angle"] = 180 - n["angle"]
            levels = gang.levels()
            x0, y0, z0 = gang.setup["stock"]["min"]
            x1, y1, z1 = gang.setup["stock"]["max"]
            stock = {"min": [x0, -y1, z0], "max": [x1, -y0, z1]}
            other = replace(gang, stick=hand, setup={**gang.setup, "fence": 180 - gang.fence, "stock": stock})
            # The gang where it lay, its notches of the other hand.
            other.datum = gang.datum
            assert all(bench.faults(other, levels, i) for i in range(gang.seats))
            # Sticks in the opposite order along the fence.
            swapped = gang.seats - 1
            _, y = gang.datum(0)
            _, far = gang.datum(swapped)
            block = replace(gang)
            block.datum = lambda i: (gang.datum(swapped - i)[0], gang.datum(i)[1])
            middle = swapped / 2
            assert gang.side * far > gang.side * y
            assert all(bench.faults(block, levels, i) for i in range(gang.seats) if i != middle)


@pytest.mark.parametrize("change", ["at", "width", "depth", "angle", "extra", "missing"])
def test_a_notch_that_is_off_is_seen(panel_file, made, change):
    """By 0.006 or 0.1 degrees, and a notch more or less."""
    for gang in bench.gangs(made(panel_file("odd-edge-up")))[:3]:
        levels = gang.levels()
        assert bench.faults(gang, levels, 1) == []
        stick = copy.deepcopy(gang.stick)
        notches = stick["notches"]
        mine = [n for n in notches if n["edge"] == gang.edge and n["angle"] == gang.fence]
        if change == "missing":
            notches.remove(mine[2])
        elif change == "extra":
            notches.append({**mine[2], "at": mine[2]["at"] + 17.1})
        elif change == "angle":
            mine[2]["angle"] += 0.13
            stick["notches"] = notches
            wrong = replace(gang, stick=stick)
            region = gang.removed(1, levels)[-1][2]
            assert bench.off_walls(region, rules.rows([mine[2]])[0], gang.face)
            assert bench.faults(wrong, levels, 1)
            continue
        else:
            # Half of a width is added at each wall.
            mine[2][change] += {"at": 0.0075, "width": 0.012, "depth": 0.006}[change]
        assert bench.faults(replace(gang, stick=stick), levels, 1)
