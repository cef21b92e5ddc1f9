"""Runs of the built program: status, signal, processor time, peak memory, what it said."""

from __future__ import annotations

import os
import resource
import signal
import subprocess
import tempfile
import threading
from dataclasses import dataclass

from workshop import PROGRAM


@dataclass
class Ran:
    words: list
    status: int | None  # None where a signal ended it
    signal: int | None
    cpu: float  # s
    memory: int  # peak, MB
    out: str
    err: str
    late: bool  # ended by us, for it took too long

    def sound(self, allowed=(0, 1, 2, 3)):
        """None, or what is wrong with any run whatever it was asked: a panic, a signal, a status that the guide
        does not have, a refusal without a word."""
        if self.late:
            return "waits for ever"
        if self.signal in (signal.SIGXCPU, signal.SIGKILL):
            return f"took too long: {self.cpu:.0f} s of processor"
        if self.signal is not None:
            return f"ended by signal {self.signal}"
        if "panicked" in self.err or "RUST_BACKTRACE" in self.err:
            return "panicked"
        if self.status not in allowed:
            return f"status {self.status}"
        if self.status and not self.err.strip():
            return "refused without a word"
        if "a fault of this program" in self.err or "internal" in self.err.lower():
            return "a fault of the program itself"
        return None


def run(*words, seconds=120, patience=600, address=None, file_size=None, stdin=None, cwd=None):
    """Runs the program under limits: of processor time and of time (s), address space and file size (bytes)."""

    def limits():
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 5))
        if address:
            resource.setrlimit(resource.RLIMIT_AS, (address, address))
        if file_size is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (file_size, file_size))

    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        process = subprocess.Popen(
            [str(PROGRAM), *map(str, words)], stdout=out, stderr=err, stdin=stdin or subprocess.DEVNULL,
            preexec_fn=limits, cwd=cwd,
        )  # fmt: skip
        late = []
        timer = threading.Timer(patience, lambda: (late.append(True), process.kill()))
        timer.start()
        _, state, usage = os.wait4(process.pid, 0)
        timer.cancel()
        process.returncode = os.waitstatus_to_exitcode(state)
        texts = []
        for file in (out, err):
            file.seek(0)
            texts.append(file.read().decode("utf-8", "replace"))
    code = process.returncode
    return Ran(
        list(map(str, words)), code if code >= 0 else None, -code if code < 0 else None,
        usage.ru_utime + usage.ru_stime, usage.ru_maxrss // 1024, *texts, bool(late),
    )  # fmt: skip
