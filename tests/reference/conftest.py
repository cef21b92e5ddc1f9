"""Jobs made by the built program, for tests against outside libraries.

Build first: cargo build --release.
"""

import pytest

import odd
from workshop import (
    DIALECTS, FLAT_PANELS, NEW_PANELS, ROOT, check, fixture_path, make, sizes, write_job,
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
