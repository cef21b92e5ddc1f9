"""Members as exact solids (manifold3d), built from the joints that job.json gives.

A bar's own frame: x along the centre line from its start, y to its left seen from the front, z from
the back face. manifold3d: boolean operations on closed triangle meshes in double precision.
"""

import math

from manifold3d import CrossSection, Manifold

# job.json has six decimals, so surfaces that touch may overlap by that much; notches are grown by it.
ROUNDING = 2e-6


def bar_solid(member, depth, face, grown=ROUNDING, deeper=lambda joint: joint["depth"]):
    """The solid of a member where it lies in the panel."""
    length = member["to"] - member["from"]
    solid = Manifold.cube([length, face, depth]).translate([member["from"], -face / 2, 0])
    for which, end in enumerate(member["ends"]):
        if end["shape"] != "square":
            solid = cut_end(solid, member, which, end["angle"])
    for joint in member["joints"]:
        solid = solid - notch(joint, depth, face, grown, deeper(joint))
    (x0, y0), (x1, y1) = member["start"], member["end"]
    turn = math.degrees(math.atan2(y1 - y0, x1 - x0))
    return solid.rotate([0, 0, turn]).translate([x0, y0, 0])


def notch(joint, depth, face, grown, deep):
    """A prism: a parallelogram along the other bar, or square to this one."""
    front = joint["edge"] == "front"
    low, high = (depth - deep - grown, depth + 1) if front else (-1, deep + grown)
    if joint["shape"] == "square":
        half, lean = joint["run"] / 2 + grown, 0.0
    else:
        # The angle is seen from the notched edge; a bar turned over shows 180 - t.
        t = math.radians(joint["angle"] if front else 180 - joint["angle"])
        half, lean = (joint["width"] / 2 + grown) / math.sin(t), 1 / math.tan(t)
    y = face
    at = joint["at"]
    corners = [
        (at - half - y * lean, -y),
        (at + half - y * lean, -y),
        (at + half + y * lean, y),
        (at - half + y * lean, y),
    ]
    return CrossSection([corners]).extrude(high - low).translate([0, 0, low])


def cut_end(solid, member, which, angle):
    """A plane through the centre line's end, at the angle from the axis."""
    a = math.radians(angle)
    sign = 1 if which == 0 else -1
    normal = (sign * math.sin(a), -sign * math.cos(a), 0)
    x = member["from"] if which == 0 else member["to"]
    return solid.trim_by_plane(normal, normal[0] * x)


def common(a, b):
    """Volume that two solids share, mm3."""
    return (a ^ b).volume()


def meeting(members):
    """Pairs of ids that share a joint, back one first."""
    rank = {m["id"]: m["rank"] for m in members}
    pairs = {
        tuple(sorted((m["id"], j["with"]), key=rank.get))
        for m in members
        for j in m["joints"]
        if j["filled"]
    }
    return sorted(pairs)


def near(a, b):
    """Whether two solids' boxes meet in plan."""
    a, b = a.bounding_box(), b.bounding_box()
    return a[0] < b[3] and b[0] < a[3] and a[1] < b[4] and b[1] < a[4]


def assemble(order, solids, depth, step=0.5):
    """Lowers members in from the front, group by group; gives the greatest common volume met."""
    present, worst = [], (0.0, "")
    for group in order:
        for name in group:
            solid = solids[name]
            around = [(other, solids[other]) for other in present if near(solid, solids[other])]
            height = depth + step
            while height > -step / 2:
                raised = solid.translate([0, 0, max(height, 0.0)])
                for other, lying in around:
                    worst = max(worst, (common(raised, lying), f"{name} on {other}"))
                height -= step
            present.append(name)
    return worst
