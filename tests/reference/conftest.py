"""Jobs made by the built program, for tests against outside libraries.

Build first: cargo build --release.
"""

import pathlib
import subprocess

import pytest

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = ROOT / "target" / "release" / "lapwright"


@pytest.fixture(scope="session")
def made(tmp_path_factory):
    """made(panel) -> folder of the job, made once a session; panel: path or built-in name."""
    folders = {}

    def make(panel):
        key = str(panel)
        if key not in folders:
            out = tmp_path_factory.mktemp("job") / "out"
            call = [str(PROGRAM), "make", key, "--out", str(out)]
            done = subprocess.run(call, capture_output=True, text=True)
            assert done.returncode == 0, f"{call}: {done.stdout}{done.stderr}"
            folders[key] = out
        return folders[key]

    return make
