"""Sticks of edge-up cutting, from the members of job.json and the values of the panel file alone.

A stick is notched at every joint of a pattern that repeats, and cross-cut into members. The rules are the
project's design, section 3; nothing here looks at how the program finds its sticks. Pieces are those of
ground.py: (length, ends, notches as (at, edge, angle, width, depth)).
"""

import functools
import itertools
import math
from dataclasses import dataclass

from shapely.geometry import Polygon

import ground as reference
from workshop import millimetres

# What tells pieces apart (mm), and what two regions share by round-off (mm2).
SAME = 1e-6
SPECK = 1e-5
# job.json has six decimals; sums of a few of them.
ROUNDING = 4e-6


def footprint(notch, face):
    """A notch as seen from the front: a parallelogram across the bar."""
    at, edge, angle, width, _ = notch
    t = math.radians(angle if edge == "front" else 180 - angle)
    half, lean = width / 2 / math.sin(t), face / 2 / math.tan(t)
    y = face / 2
    return Polygon([
        (at - half - lean, -y), (at + half - lean, -y), (at + half + lean, y), (at - half + lean, y),
    ])  # fmt: skip


def plan(piece, face):
    """A piece's wood as seen from the front, its ends in one plane each."""
    length, ends, _ = piece
    y = face / 2

    def lean(end):
        assert end[1] in ("square", "skew"), "an end in two planes"
        return y / math.tan(math.radians(end[0]))

    first, last = lean(ends[0]), lean(ends[1])
    return Polygon([(-first, -y), (length - last, -y), (length + last, y), (first, y)])


def moved(notch, by):
    return (notch[0] + by, *notch[1:])


def rows(notches):
    """Notches of job.json as tuples."""
    return [(n["at"], n["edge"], n["angle"], n["width"], n["depth"]) for n in notches]


def of_class(one):
    return one["length"], [(e["angle"], e["shape"]) for e in one["ends"]], rows(one["joints"])


def of_member(member):
    notches = [moved(n, -member["from"]) for n in rows(member["joints"])]
    return member["length"], [(e["angle"], e["shape"]) for e in member["ends"]], notches


def joints_of(piece):
    """Places of a piece's joints, ascending."""
    places = []
    for at in sorted(n[0] for n in piece[2]):
        if not places or at - places[-1] > 1e-3:
            places.append(at)
    return places


def lies_in(piece, notches, face):
    """Whether a piece can be cut where these notches are, given from the piece's first end: all of its own
    are there, and no other takes any of its wood."""
    left = list(notches)
    for mine in piece[2]:
        for n in left:
            near = all(abs(a - b) <= ROUNDING for a, b in zip([mine[0], *mine[2:]], [n[0], *n[2:]]))
            if near and n[1] == mine[1]:
                left.remove(n)
                break
        else:
            return False
    wood = plan(piece, face)
    x0, _, x1, _ = wood.bounds
    reach = max((footprint(n, face).bounds[2] - n[0] for n in left), default=0)
    near = [n for n in left if x0 - reach < n[0] < x1 + reach]
    return all(footprint(n, face).intersection(wood).area < SPECK for n in near)


class Pattern:
    """The notches of a stick that never ends: `period` joints and again, `repeat` mm on."""

    def __init__(self, stick, period):
        self.joints = [[] for _ in range(stick["joints"])]
        for n in stick["notches"]:
            self.joints[n["joint"] - 1] += rows([n])
        assert all(self.joints), "every joint is notched, lost ones too"
        self.places = [sum(n[0] for n in j) / len(j) for j in self.joints]
        self.period = period
        if period:
            assert len(self.joints) > period, "the pattern shows"
            self.repeat = self.places[period] - self.places[0]

    def place(self, joint):
        """Of any joint, from 0 on."""
        if not self.period:
            return self.places[joint]
        times, phase = divmod(joint, self.period)
        return self.places[phase] + times * self.repeat

    def notches(self, joint):
        phase = joint % self.period if self.period else joint
        by = self.place(joint) - self.places[phase]
        return [moved(n, by) for n in self.joints[phase]]

    def repeats(self):
        """Whether the stick's own notches repeat all along."""
        for i, joint in enumerate(self.joints):
            expected = self.notches(i)
            if len(expected) != len(joint):
                return False
            for a, b in zip(expected, joint):
                if a[1] != b[1] or any(abs(p - q) > ROUNDING for p, q in zip(a[2:], b[2:])):
                    return False
                if abs(a[0] - b[0]) > ROUNDING * len(self.joints):
                    return False
        return True


def datum_point(stick):
    """How far the facets of a datum end run back along the stick."""
    [end, other] = stick["ends"]
    assert other == {"angle": 90.0, "shape": "square"}
    if end["shape"] == "square":
        assert end["angle"] == 90
        return 0.0
    assert end["shape"] == "point"
    return stick["face"] / 2 / math.tan(math.radians(end["angle"]))


def datum_end(stick):
    """A stick from the front: its datum end pointed from both sides, at its angle, the point at x = 0."""
    y, x = stick["face"] / 2, datum_point(stick)
    length = stick["length"]
    return Polygon([(0, 0), (x, -y), (length, -y), (length, y), (x, y)])


def both_turns(*turns):
    """Whether turns together are over, and end for end."""
    return tuple(sum(t in names for t in turns) % 2 == 1 for names in (("over", "both"), ("end", "both")))


def trimmed(member, ground):
    """What is left of a member within the outline, in its own frame: x from start, y to its left."""
    (x0, y0), (x1, y1) = member["start"], member["end"]
    long = math.dist((x0, y0), (x1, y1))
    ux, uy = (x1 - x0) / long, (y1 - y0) / long
    own = [((x - x0) * ux + (y - y0) * uy, (y - y0) * ux - (x - x0) * uy)
           for x, y in ground.outline.exterior.coords]  # fmt: skip
    half = member["face"] / 2
    far = long + 1000
    band = Polygon([(-far, -half), (far, -half), (far, half), (-far, half)])
    return Polygon(own).intersection(band)


def kept_in_stick(member, piece, ground):
    """What the panel keeps of a member, where it lies in its stick: x from the datum end."""
    over, end = both_turns(member["turn"], piece["turn"])
    corners = []
    for x, y in trimmed(member, ground).exterior.coords:
        x -= member["from"]
        x = member["length"] - x if end else x
        # Turned over about x, or about z by end and over: the sides change places by one turn alone.
        corners.append((x + piece["cut"][0], -y if over != end else y))
    return Polygon(corners)


@dataclass(frozen=True)
class Way:
    """A way for a piece to lie in a stick."""

    phase: int  # which joint of the period its first one is
    before: float  # wood before its first joint
    after: float  # past its last
    turn: str


@dataclass(frozen=True)
class Kind:
    """A class of members as a piece of a stick."""

    name: str
    joints: int
    count: int
    ways: tuple


def leads(panel, families):
    """Least lead and tail of pieces for these families: the panel's, or those of the family."""
    sticks = panel.get("sticks", {})
    own = sticks.get("ends", {})
    common = (sticks.get("lead", 40), sticks.get("tail", 40))
    both = [(own[f], own[f]) if f in own else common for f in families]
    return [max(millimetres(b[side]) for b in both) for side in (0, 1)]


def needs(piece, lead, tail, face):
    """Wood before its first joint and past its last: the greater of lead or tail and what its own wood
    reaches, overhang included."""
    x0, _, x1, _ = plan(piece, face).bounds
    places = joints_of(piece)
    return max(lead, places[0] - x0), max(tail, x1 - places[-1])


def ways(piece, pattern, lead, tail, face):
    """All ways for a piece to lie in a pattern."""
    found = []
    joints = len(joints_of(piece))
    for turn in reference.TURNS:
        lying = reference.turned(piece, turn)
        first = joints_of(lying)[0]
        for phase in range(pattern.period or 1):
            shift = pattern.period * 8 if pattern.period else 0
            around = range(-shift, joints + shift) if shift else range(joints)
            start = pattern.place(phase + shift) - first
            here = [moved(n, -start) for j in around for n in pattern.notches(phase + shift + j)]
            if lies_in(lying, here, face):
                found.append(Way(phase, *needs(lying, lead, tail, face), turn))
    return found


def lead_and_tail(kinds):
    """Of all sticks of a class: the least, in sum, with which every piece can lie in some way. Where others
    are as little in sum, one of them."""
    best = None
    for lead in {w.before for k in kinds for w in k.ways}:
        tail = 0.0
        for kind in kinds:
            fitting = [w.after for w in kind.ways if w.before <= lead + SAME]
            tail = max(tail, min(fitting, default=math.inf))
        if best is None or lead + tail < sum(best) - SAME:
            best = (lead, tail)
    return best


class Search:
    """Tries every count of joints, and every way to fill a stick of so many."""

    def __init__(self, kinds, pattern, kerf, lead, tail):
        self.pattern, self.kerf = pattern, kerf
        self.lead, self.tail = lead, tail
        self.kinds = [
            Kind(k.name, k.joints, k.count, tuple(
                w for w in k.ways if w.before <= self.lead + ROUNDING and w.after <= self.tail + ROUNDING
            )) for k in kinds
        ]  # fmt: skip
        self.counts = tuple(k.count for k in kinds)

    def length(self, joints, phase):
        span = self.pattern.place(phase + joints - 1) - self.pattern.place(phase)
        return self.lead + span + self.tail

    def next_joint(self, last, after, way, phase, joints, room):
        """The first joint at which a piece can begin after one that ends at `last`: (m + 1) joints on,
        as far as tail, saw kerf and lead ask for."""
        for first in range(0 if last is None else last + 1, joints - room + 1):
            if (phase + first - way.phase) % self.pattern.period:
                continue
            if last is None:
                return first
            apart = self.pattern.place(phase + first) - self.pattern.place(phase + last)
            if apart >= after + self.kerf + way.before - SAME:
                return first
        return None

    def fillings(self, joints, phase):
        """What one stick can hold: counts of kinds, those alone that no other holds too."""
        found = set()
        seen = set()

        def go(last, after, held):
            state = (last, after, held)
            if state in seen:
                return
            seen.add(state)
            found.add(held)
            for i, kind in enumerate(self.kinds):
                if held[i] == kind.count:
                    continue
                for way in kind.ways:
                    first = self.next_joint(last, after, way, phase, joints, kind.joints)
                    if first is not None:
                        more = held[:i] + (held[i] + 1,) + held[i + 1 :]
                        go(first + kind.joints - 1, way.after, more)

        go(None, 0.0, (0,) * len(self.kinds))
        most = lambda a: not any(a != b and all(x <= y for x, y in zip(a, b)) for b in found)  # noqa: E731
        return [a for a in found if any(a) and most(a)]

    def fewest(self, joints, phase):
        """The fewest sticks of so many joints that hold all pieces; None where some piece fits none."""
        fillings = self.fillings(joints, phase)

        @functools.cache
        def go(left):
            if not any(left):
                return 0
            # Some stick holds the first kind that is left.
            i = next(i for i, n in enumerate(left) if n)
            held = [f for f in fillings if f[i]]
            tails = [go(tuple(max(0, a - b) for a, b in zip(left, f))) for f in held]
            return 1 + min((t for t in tails if t is not None), default=math.inf)

        best = go(self.counts)
        return None if best == math.inf else best

    def best(self, limit):
        """(total milled length, sticks, joints) of the least total within the limit, then the fewest."""
        best = None
        pieces = sum(k.count * k.joints for k in self.kinds)
        for joints in itertools.count(max(k.joints for k in self.kinds)):
            lengths = [self.length(joints, phase) for phase in range(self.pattern.period)]
            if min(lengths) > limit + SAME or (best and min(lengths) > best[0] + SAME):
                return best
            for phase, length in enumerate(lengths):
                floor = math.ceil(pieces / joints) * length
                if length > limit + SAME or (best and floor > best[0] + SAME):
                    continue
                sticks = self.fewest(joints, phase)
                if sticks is None:
                    continue
                total = sticks * length
                shorter = best is None or total < best[0] - SAME
                if shorter or (total < best[0] + SAME and sticks < best[1]):
                    best = (total, sticks, joints)
