"""Panel, machine, material, stock and post-processor files for the tests, and calls of the program.

Files are the project's fixtures with some values changed; what a test asks for stands in the test.
"""

import copy
import json
import pathlib
import subprocess
import tomllib

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = ROOT / "target" / "release" / "lapwright"
FOLDERS = {
    "panel": ROOT / "fixtures" / "panels",
    "machine": ROOT / "fixtures" / "machines",
    "material": ROOT / "fixtures" / "materials",
    "stock": ROOT / "fixtures" / "stock",
    "pattern": ROOT / "fixtures" / "patterns",
    "post_processor": ROOT / "post-processors",
}
# Every dialect, by the head that it drives, and the panel that shows it.
DIALECTS = {
    path.stem: "plain-window" if tomllib.loads(path.read_text())["drives"] == "laser" else "router-square"
    for path in sorted(FOLDERS["post_processor"].glob("*.toml"))
}
# Panels that are cut, as they come with the program.
FLAT_PANELS = [
    "demo", "three-way-card", "hemp-leaf-card", "hemp-leaf-outlines", "hexagon-card", "router-square",
]
# Panel files to start from, one for each layout.
NEW_PANELS = [
    "new-square", "new-diamond", "new-three-way", "new-open-three-way", "new-eight-point", "new-free",
]  # fmt: skip


def call(*words, **more):
    """Runs the program; words that are paths are taken as they are."""
    more.setdefault("timeout", 120)
    return subprocess.run(
        [str(PROGRAM), *map(str, words)], capture_output=True, text=True, **more
    )


def said(done):
    """All that a run wrote, for the message of a failed assertion."""
    return f"{done.args}: status {done.returncode}\n{done.stdout}\n{done.stderr}"


def fixture_path(kind, name):
    return FOLDERS[kind] / f"{name}.toml"


def fixture(kind, name):
    """A fixture as plain data."""
    return tomllib.loads(fixture_path(kind, name).read_text())


def changed(data, changes):
    """A copy with values changed: {"ground.pitch": 71.3}; None takes the key out."""
    data = copy.deepcopy(data)
    for dotted, value in changes.items():
        *tables, key = dotted.split(".")
        table = data
        for name in tables:
            table = table.setdefault(name, {})
        if value is None:
            table.pop(key, None)
        else:
            table[key] = value
    return data


def stands(data, dotted):
    """Whether a key stands in plain data."""
    for name in dotted.split("."):
        if name not in data:
            return False
        data = data[name]
    return True


def toml(data):
    """Plain data as TOML: scalars first, then one level of tables, all below them inline."""
    scalars = [(k, v) for k, v in data.items() if not isinstance(v, dict)]
    lines = [f"{key} = {inline(value)}" for key, value in scalars]
    for name, table in data.items():
        if isinstance(table, dict):
            lines += ["", f"[{name}]"]
            lines += [f"{key} = {inline(value)}" for key, value in table.items()]
    return "\n".join(lines) + "\n"


def inline(value):
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        # TOML has no halves of a letter beyond 16 bits, which JSON would escape it to.
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, list):
        return "[" + ", ".join(inline(v) for v in value) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {inline(v)}" for k, v in value.items()) + " }"
    return repr(value)


def write_job(folder, base, /, **changes):
    """Writes a panel file and all files that it names into folder; gives the panel file's path.

    base: name of a fixture panel. changes: panel, machine, material, stock, post_processor, each as for
    `changed`; a whole other fixture is named by {"": name}. Material of another thickness comes in stock that says
    nothing of it, and a key that is taken out leaves the list of values from memory too.
    """
    folder.mkdir(parents=True, exist_ok=True)
    data = changed(fixture("panel", base), changes.pop("panel", {}))
    other = "thickness" in changes.get("material", {})
    for kind in ("machine", "material", "stock", "post_processor"):
        change = dict(changes.pop(kind, {}))
        name = change.pop("", data[kind])
        if kind == "stock" and other:
            change.setdefault("thickness", None)
        own = changed(fixture(kind, name), change)
        if "from_memory" in own:
            own["from_memory"] = [key for key in own["from_memory"] if stands(own, key)]
        (folder / f"{kind}.toml").write_text(toml(own))
        data[kind] = f"{kind}.toml"
    assert not changes, f"unknown kinds of file: {list(changes)}"
    path = folder / "panel.toml"
    path.write_text(toml(data))
    return path


def roomy(panel, **more):
    """What write_job takes for an edge-up panel whose lattice is looked at, not its bench: a bench, a
    tool and strips that refuse nothing."""
    sticks = {"sticks": {"lead": 70, "tail": 70, "saw_kerf": 1.5}}
    machine = {
        "travel": [30000, 30000, 80], "router.tool.diameter": 0.8, "router.rail": 200,
        "router.hold_width": 3, "router.clamp_width": 30000, "router.fence_deg": [1, 179],
        "router.fence_error_deg": 0, "router.apex_error": 0, "router.square_error_deg": 0,
        "router.rail_bow": 0, "router.seating": 0,
        "router.tool.flute_length": 200, "router.tool.stick_out": 300,
    }  # fmt: skip
    material = {"router.pass_depth": 0.8, "taper": 0, **more.pop("material", {})}
    stock = {"blank": [{"name": "long", "length": 20000, "width": 1500}]}
    return dict(panel={**panel, **sticks}, machine=machine, material=material, stock=stock, **more)


def make(panel, out):
    """Makes a job that must come out well."""
    done = call("make", panel, "--out", out)
    assert done.returncode == 0, said(done)
    return out


def check(panel):
    """The summary of a panel that must pass all checks."""
    done = call("check", panel, "--json")
    assert done.returncode == 0, said(done)
    return json.loads(done.stdout)


def summary(folder):
    return json.loads((folder / "job.json").read_text())


def flat_runs(job):
    """(setup, strip) of every strip or sheet that is cut flat: those that share a program one after the other, in
    the order of the setups."""
    setups = [s for s in job["setups"] if s["kind"].startswith("flat")]
    runs = [setup for setup in setups for _ in range(setup["loads"])]
    # Strips that sticks come from stand before them.
    strips = job["nest"]["strips"][len(job["nest"]["strips"]) - len(runs) :]
    assert len(strips) == len(runs)
    return list(zip(runs, strips))


def members_of(job, setup, place):
    """The member in a place of a setup, on each sheet that it cuts."""
    return [strip["pieces"][place]["id"] for own, strip in flat_runs(job) if own is setup]


def sources(folder, material=None):
    """The files a job was made from, as plain data, by kind: the bars' own, or those of the material of this
    name; patterns aside, of which the panel names any number."""
    found = {}
    for path in (folder / "source").glob("*.toml"):
        found[path.stem.replace("-", "_")] = tomllib.loads(path.read_text())
    found = {kind: data for kind, data in found.items() if not kind.startswith("pattern")}
    further = {kind: found.pop(kind) for kind in list(found) if kind[-1].isdigit()}
    if material is not None and material != found["material"]["name"]:
        (found["material"],) = [data for data in further.values() if data["name"] == material]
    if "post" in found:
        found["post_processor"] = found.pop("post")
    return found


def sizes(panel_path):
    """Plain data of a panel file and of the material that it names."""
    panel = tomllib.loads(panel_path.read_text())
    name = panel["material"]
    if name.endswith(".toml"):
        material = tomllib.loads((panel_path.parent / name).read_text())
    else:
        material = fixture("material", name)
    return panel, material


def millimetres(value):
    """A length as the files have it: a number, or text with a unit."""
    if isinstance(value, str):
        number, unit = value.split()
        return float(number) * {"mm": 1.0, "in": 25.4}[unit]
    return float(value)


def measured(material):
    """Least and greatest thickness of flat stock."""
    thickness = material["thickness"]
    readings = thickness if isinstance(thickness, list) else [thickness]
    readings = [millimetres(t) for t in readings]
    return [min(readings), max(readings)]
