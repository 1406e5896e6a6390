#!/usr/bin/env python3
"""Prepares the project's own Python environment, then runs the command in it.

Standard library only, because it runs before anything is installed: `python3 manage.py demo` and
`python3 manage.py test` are all a bare machine needs. What a test run needs beyond that stands in tests/run.py.
"""

from __future__ import annotations

import contextlib
import ctypes.util
import hashlib
import importlib.util
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from types import FrameType

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
LOCK = ROOT / "requirements.lock"
TEST_LOCK = ROOT / "tests" / "requirements.lock"
OLDEST_PYTHON = (3, 11)
CANNOT_PREPARE = 3
# What these run lies under tests/ and needs its packages.
NEEDS_TESTING = ("test", "soak")

VENV_PACKAGES = ("python3-venv",)
# Shared library → Debian package. WeasyPrint loads them when the first PDF is made.
PANGO_LIBRARIES = {
    "pango-1.0": "libpango-1.0-0",
    "pangoft2-1.0": "libpangoft2-1.0-0",
    "harfbuzz-subset": "libharfbuzz-subset0",
}
PANGO_PACKAGES = (*PANGO_LIBRARIES.values(), "fonts-dejavu-core")


class CannotPrepareError(Exception):
    """The environment can't be made here; the message says what to do."""


def say(text: str) -> None:
    """Tell the person what is happening, on stderr: stdout belongs to the command (`compute` writes JSON)."""
    print(text, file=sys.stderr, flush=True)


# --- system packages ---------------------------------------------------------------------------------------------


def may_install_packages() -> bool:
    """Whether this is a Debian-like machine and we are root on it."""
    return hasattr(os, "geteuid") and os.geteuid() == 0 and shutil.which("apt-get") is not None


def apt_line(packages: Sequence[str]) -> str:
    """The line a person runs to get the packages."""
    return f"apt-get install -y {' '.join(packages)}"


def apt_install(packages: Sequence[str]) -> bool:
    """Install Debian packages, fetching the package lists first only when it fails without."""
    environ = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    install = ["apt-get", "install", "-y", "--no-install-recommends", *packages]
    say(f"Installing system packages: {' '.join(packages)}")
    for command in (install, ["apt-get", "update"], install):
        done = subprocess.run(
            command, env=environ, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
        )
        if command is install and done.returncode == 0:
            return True
    say(done.stderr.strip())
    return False


def missing_pango_libraries() -> list[str]:
    """The shared libraries WeasyPrint needs and this machine lacks."""
    return [
        name
        for name in PANGO_LIBRARIES
        if not any(ctypes.util.find_library(spelling) for spelling in (name, f"lib{name}-0", f"lib{name}"))
    ]


def ensure_pango() -> None:
    """Install Pango where we may; otherwise say how, and go on: everything but the PDFs works without."""
    if not missing_pango_libraries():
        return
    if may_install_packages() and apt_install(PANGO_PACKAGES):
        return
    say(
        "Pango is missing, so no PDF can be made yet; everything else works. To get it, run as root:\n"
        f"    {apt_line(PANGO_PACKAGES)}"
    )


# --- the Python environment --------------------------------------------------------------------------------------


def venv_python() -> Path:
    """The environment's own interpreter."""
    return VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def running_in_venv() -> bool:
    """Whether this process already is the environment's own interpreter."""
    return Path(sys.prefix).resolve() == VENV.resolve()


def stamp_file(*, testing: bool) -> Path:
    """Where the environment records what it was made from."""
    return VENV / ("fleet-test-stamp" if testing else "fleet-stamp")


def expected_stamp(*, testing: bool) -> str:
    """What the stamp must say: the locks' SHA-256 and the Python minor version."""
    digest = hashlib.sha256(LOCK.read_bytes())
    if testing:
        digest.update(b"\0" + TEST_LOCK.read_bytes())
    return f"{digest.hexdigest()} python {sys.version_info.major}.{sys.version_info.minor}\n"


def stamp_found(*, testing: bool) -> str:
    """What the stamp says, or nothing where there is none."""
    try:
        return stamp_file(testing=testing).read_text(encoding="ascii")
    except (OSError, UnicodeDecodeError):
        return ""


def is_ready(*, testing: bool) -> bool:
    """Whether the environment is complete and made from these very locks with this Python."""
    wanted = (False, True) if testing else (False,)
    return venv_python().exists() and all(stamp_found(testing=each) == expected_stamp(testing=each) for each in wanted)


def ensure_ready(*, testing: bool) -> None:
    """Make or refresh the environment, one process at a time."""
    if is_ready(testing=testing):
        return
    with only_one_process():
        # Another process may have finished it while this one waited.
        if not is_ready(testing=testing):
            build(testing=testing)


def build(*, testing: bool) -> None:
    """Make the environment from the locks; the stamp is written last, so a half-made one never counts."""
    # A finished environment of the same Python is refreshed in place, which takes seconds and disturbs no process that
    # runs from it; anything else is made anew.
    finished = stamp_found(testing=False).endswith(expected_stamp(testing=False)[64:]) and venv_python().exists()
    for each in (True, False):
        stamp_file(testing=each).unlink(missing_ok=True)
    if not finished and not running_in_venv():
        make_empty_venv()
    locks = [LOCK, TEST_LOCK] if testing else [LOCK]
    say(f"Installing the packages of {' and '.join(lock.relative_to(ROOT).as_posix() for lock in locks)} ...")
    # Wheels only: building a source archive would fetch build tools that no hash covers.
    command = [str(venv_python()), "-m", "pip", "install", "-qq", "--disable-pip-version-check", "--no-input"]
    command += ["--require-hashes", "--only-binary", ":all:"]
    for lock in locks:
        command += ["-r", str(lock)]
    if subprocess.run(command, stdin=subprocess.DEVNULL, stdout=sys.stderr.fileno()).returncode != 0:
        raise CannotPrepareError("The install failed (see above). Mend what it names, then run the same command again.")
    for each in (False, True) if testing else (False,):
        stamp_file(testing=each).write_text(expected_stamp(testing=each), encoding="ascii")


def make_empty_venv() -> None:
    """Put a fresh environment, with pip and nothing else, where the old one was."""
    ensure_ensurepip()
    say(f"Making the Python environment in {VENV} ...")
    if VENV.exists():
        shutil.rmtree(VENV)
    command = [sys.executable, "-m", "venv", str(VENV)]
    if subprocess.run(command, stdin=subprocess.DEVNULL, stdout=sys.stderr.fileno()).returncode != 0:
        raise CannotPrepareError("Python could not make a virtual environment (see above).")


def has_ensurepip() -> bool:
    """Whether this Python can put pip into an environment; Debian ships that part on its own."""
    importlib.invalidate_caches()
    return all(importlib.util.find_spec(name) is not None for name in ("venv", "ensurepip"))


def ensure_ensurepip() -> None:
    """Install Debian's missing part of Python where we may, otherwise say how."""
    if has_ensurepip() or (may_install_packages() and apt_install(VENV_PACKAGES) and has_ensurepip()):
        return
    raise CannotPrepareError(
        f"This Python can't make virtual environments yet. Run as root, then run the same command again:\n"
        f"    {apt_line(VENV_PACKAGES)}"
    )


@contextlib.contextmanager
def only_one_process() -> Iterator[None]:
    """Hold the lock beside the environment; the system frees it even if this process is killed."""
    with (ROOT / ".venv.lock").open("a+b") as handle:
        told = False
        while not try_lock(handle.fileno()):
            if not told:
                say("Another process is preparing the environment; waiting for it ...")
                told = True
            time.sleep(0.2)
        yield


if sys.platform == "win32":
    import msvcrt

    def try_lock(descriptor: int) -> bool:
        """Take the lock if it is free."""
        os.lseek(descriptor, 0, os.SEEK_SET)
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def try_lock(descriptor: int) -> bool:
        """Take the lock if it is free."""
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


# --- running -----------------------------------------------------------------------------------------------------


def run_in_venv(arguments: Sequence[str]) -> int:
    """Run this same command in the environment; its exit code is ours, and so is a stop from outside."""
    child: subprocess.Popen[bytes] | None = None

    def leave_it_to_the_child(_signal: int, _frame: FrameType | None) -> None:
        """Ctrl-C reaches parent and child alike; the child tidies up and this process waits for it."""

    def pass_on(number: int, _frame: FrameType | None) -> None:
        if child is not None:
            child.send_signal(number)

    signal.signal(signal.SIGINT, leave_it_to_the_child)
    signal.signal(signal.SIGTERM, pass_on)
    command = [str(venv_python()), str(ROOT / "manage.py"), *arguments]
    child = subprocess.Popen(command, env={**os.environ, "FLEET_ENV": "given"})
    code = child.wait()
    return 128 - code if code < 0 else code


def run_here(arguments: Sequence[str]) -> int:
    """Run the command with this interpreter: `test` as the test run, anything else through Django."""
    if arguments[:1] == ["test"]:
        sys.path.insert(0, str(ROOT))
        from tests.run import run_tests

        return run_tests(arguments[1:])
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line([str(ROOT / "manage.py"), *arguments])
    return 0


def main(arguments: Sequence[str]) -> int:
    """Prepare what the command needs, then run it where it belongs."""
    if sys.version_info < OLDEST_PYTHON:
        say(f"Python {OLDEST_PYTHON[0]}.{OLDEST_PYTHON[1]} or newer is needed; this is {sys.version.split()[0]}.")
        return CANNOT_PREPARE
    if os.environ.get("FLEET_ENV") == "given":
        return run_here(arguments)
    command = arguments[0] if arguments else ""
    try:
        ensure_ready(testing=command in NEEDS_TESTING)
        if command == "demo":
            ensure_pango()
    except (CannotPrepareError, OSError) as problem:
        say(str(problem))
        return CANNOT_PREPARE
    except KeyboardInterrupt:
        say("Stopped; the next run starts over where it must.")
        return 130
    return run_here(arguments) if running_in_venv() else run_in_venv(arguments)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
