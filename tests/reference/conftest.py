"""Jobs made by the built program, for tests against outside libraries.

Build first: cargo build --release.
"""

import pytest

import odd
from drawings import Drawing
from workshop import (
    DIALECTS, FLAT_PANELS, NEW_PANELS, ROOT, changed, check, fixture_path, make, sizes, sources, toml, write_job,
)  # fmt: skip

__all__ = ["ROOT"]


@pytest.fixture(scope="session")
def made(tmp_path_factory):
    """made(panel) -> folder of the job, made once a session; panel: path or built-in name."""
    folders = {}

    def once(panel):
        key = str(panel)
        if key not in folders:
            folders[key] = make(key, tmp_path_factory.mktemp("job") / "out")
        return folders[key]

    return once


@pytest.fixture(scope="session")
def panel_file(tmp_path_factory):
    """panel_file(name) -> panel file of a fixture, of a panel at odd values, or of a dialect."""
    paths = {}

    def once(name):
        if name not in paths:
            writer = {**odd.FLAT, **odd.EDGE_UP, **odd.MEASURED}.get(name)
            if writer:
                paths[name] = writer(tmp_path_factory.mktemp(name))
            elif name in DIALECTS:
                folder = tmp_path_factory.mktemp(name)
                post = {"": name}
                paths[name] = write_job(folder, DIALECTS[name], post_processor=post)
            else:
                paths[name] = fixture_path("panel", name)
        return paths[name]

    return once


@pytest.fixture(scope="session", params=[*FLAT_PANELS, *odd.FLAT, "new-eight-point", "new-free"])
def flat_job(request, panel_file, made):
    """Folder of every job that is cut flat, in turn."""
    return made(panel_file(request.param))


@pytest.fixture(scope="session", params=[*FLAT_PANELS, *odd.FLAT, *NEW_PANELS, "check", *odd.EDGE_UP])
def any_panel(request, panel_file):
    """(panel file, panel, material, summary) of every panel, in turn."""
    path = panel_file(request.param)
    return (path, *sizes(path), check(path))


@pytest.fixture(scope="session")
def all_drawings(flat_job, tmp_path_factory):
    """Folder of the job with every DXF file that there is: both releases, sheets and pieces."""
    folder = tmp_path_factory.mktemp("drawings")
    data = sources(flat_job)
    panel = changed(data.pop("panel"), {"cut.dxf_version": "both", "cut.dxf_files": "both"})
    panel["cut"]["dxf"] = "both"
    for kind, values in data.items():
        (folder / f"{kind}.toml").write_text(toml(values))
        panel[kind] = f"{kind}.toml"
    (folder / "panel.toml").write_text(toml(panel))
    return make(folder / "panel.toml", folder / "out")


@pytest.fixture(scope="session")
def drawings(all_drawings):
    """All drawings, of sheets and of pieces, with those beside them of which nothing is cut."""
    found = [Drawing(all_drawings, file) for file in sorted((all_drawings / "dxf").glob("*.dxf"))]
    assert found, "a flat job has DXF files"
    return found


@pytest.fixture(scope="session")
def sheets(drawings):
    """All drawings that are cut."""
    return [d for d in drawings if not d.beside]
