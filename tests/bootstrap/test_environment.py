"""`python3 manage.py ANYTHING` makes its own environment, knows when it is ready, and says what it can't do."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import time
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest

from tests.bootstrap.conftest import OWN_VARIABLES, Copy, plain_python


def test_a_bare_copy_makes_its_environment_and_runs_again_inside_it(copy: Copy) -> None:
    done = copy.run("test", "-k", "two words")
    assert (done.returncode, done.stdout) == (7, ".venv given -k two words\n"), done.stderr
    assert "Making the Python environment" in done.stderr
    assert copy.stamp.exists()


def test_a_ready_environment_is_left_alone_and_nothing_is_said(ready_copy: Copy) -> None:
    before = ready_copy.stamp.stat().st_mtime_ns
    done = ready_copy.run("test")
    assert (done.stdout, done.stderr) == (".venv given\n", "")
    assert ready_copy.stamp.stat().st_mtime_ns == before


def test_another_lock_refreshes_the_environment(ready_copy: Copy) -> None:
    before = ready_copy.stamp.read_text()
    (ready_copy.root / "requirements.lock").write_text("# another list\n")
    done = ready_copy.run("test")
    assert "Installing the packages of requirements.lock" in done.stderr
    assert "Making" not in done.stderr
    assert ready_copy.stamp.read_text() != before


@pytest.mark.parametrize("stamp", [None, "0" * 64 + " python 3.1\n"])
def test_a_half_built_environment_or_one_of_another_python_is_made_anew(copy: Copy, stamp: str | None) -> None:
    litter = copy.root / ".venv" / "litter"
    litter.parent.mkdir()
    litter.touch()
    if stamp is not None:
        copy.stamp.write_text(stamp, encoding="ascii")
    done = copy.run("test")
    assert "Making the Python environment" in done.stderr
    assert done.returncode == 7
    assert not litter.exists()


@pytest.mark.parametrize("stamp", ["", "\xff", "0" * 64])
def test_a_stamp_that_says_anything_else_does_not_count(ready_copy: Copy, stamp: str) -> None:
    module = ready_copy.load()
    assert module.is_ready(testing=True)
    ready_copy.stamp.write_text(stamp, encoding="latin-1")
    assert not module.is_ready(testing=False)


def test_other_commands_do_not_install_what_only_testing_needs(ready_copy: Copy) -> None:
    (ready_copy.root / "requirements.lock").write_text("# another list\n")
    done = ready_copy.run("check")
    assert ready_copy.stamp.exists()
    assert not (ready_copy.root / ".venv" / "fleet-test-stamp").exists()
    # The lock of this copy is empty, so Django is what is missing next.
    assert "No module named 'django'" in done.stderr


def pip_without_network(wheel: Path) -> dict[str, str]:
    """pip's own settings, so that it looks nowhere but beside the wheel."""
    return {"PIP_CONFIG_FILE": os.devnull, "PIP_NO_INDEX": "1", "PIP_FIND_LINKS": str(wheel.parent)}


def test_a_locked_package_is_installed_and_its_file_must_have_the_locked_hash(ready_copy: Copy, wheel: Path) -> None:
    digest = hashlib.sha256(wheel.read_bytes()).hexdigest()
    (ready_copy.root / "requirements.lock").write_text(f"tiny==1.0 --hash=sha256:{digest}\n")
    (ready_copy.root / "tests" / "run.py").write_text(
        "def run_tests(arguments):\n    import tiny\n    print(tiny.WORD)\n    return 0\n"
    )
    done = ready_copy.run("test", **pip_without_network(wheel))
    assert (done.returncode, done.stdout) == (0, "installed\n"), done.stderr


@pytest.mark.parametrize("hashes", ["", f" --hash=sha256:{'0' * 64}"])
def test_a_package_without_its_right_hash_is_refused_and_leaves_no_stamp(
    ready_copy: Copy, wheel: Path, hashes: str
) -> None:
    (ready_copy.root / "requirements.lock").write_text(f"tiny==1.0{hashes}\n")
    done = ready_copy.run("test", **pip_without_network(wheel))
    assert done.returncode == 3
    assert "hash" in done.stderr.lower()
    assert "run the same command again" in done.stderr
    assert not ready_copy.stamp.exists()


def test_a_given_environment_is_taken_as_it_is(copy: Copy) -> None:
    done = copy.run("test", FLEET_ENV="given")
    assert done.stdout.split()[1] == "given"
    assert done.returncode == 7
    assert not (copy.root / ".venv").exists()


def test_two_first_runs_at_once_make_one_sound_environment(copy: Copy) -> None:
    environ = {name: value for name, value in os.environ.items() if name not in OWN_VARIABLES}
    command = [plain_python(), "manage.py", "test"]
    runs = [
        subprocess.Popen(command, cwd=copy.root, env=environ, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    ends = [run.communicate(timeout=180) for run in runs]
    assert [run.returncode for run in runs] == [7, 7], ends
    assert sum(stderr.count("Making the Python environment") for _, stderr in ends) == 1


def on_debian(module: ModuleType, monkeypatch: pytest.MonkeyPatch, *, root: bool, apt_works: bool = True) -> list[Any]:
    """Debian's python3 without its venv part; returns the commands that were run."""
    ran: list[Any] = []
    installed: list[bool] = []

    def run(command: list[str], **_options: object) -> SimpleNamespace:
        ran.append(command)
        if command[1] == "install" and apt_works:
            installed.append(True)
        return SimpleNamespace(returncode=0 if apt_works else 100, stderr="E: no such package")

    def find_spec(_name: str) -> object:
        return object() if installed else None

    monkeypatch.setattr(module, "subprocess", SimpleNamespace(run=run, DEVNULL=-3, PIPE=-1))
    monkeypatch.setattr(module.importlib.util, "find_spec", find_spec)
    monkeypatch.setattr(module, "may_install_packages", lambda: root)
    return ran


def test_without_ensurepip_and_without_rights_the_line_is_printed_and_the_exit_code_is_3(
    copy: Copy, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    module = copy.load()
    monkeypatch.delenv("FLEET_ENV", raising=False)
    ran = on_debian(module, monkeypatch, root=False)
    assert module.main(["demo"]) == 3
    printed = capsys.readouterr()
    assert "apt-get install -y python3-venv" in printed.err
    assert printed.out == ""
    assert ran == []


def test_without_ensurepip_root_installs_it(copy: Copy, monkeypatch: pytest.MonkeyPatch) -> None:
    module = copy.load()
    ran = on_debian(module, monkeypatch, root=True)
    module.ensure_ensurepip()
    assert [command[:2] for command in ran] == [["apt-get", "install"]]
    assert ran[0][-1] == "python3-venv"


def test_when_the_package_lists_are_old_they_are_fetched_and_the_install_tried_again(
    copy: Copy, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    module = copy.load()
    ran = on_debian(module, monkeypatch, root=True, apt_works=False)
    with pytest.raises(module.CannotPrepareError, match="apt-get install -y python3-venv"):
        module.ensure_ensurepip()
    assert [command[1] for command in ran] == ["install", "update", "install"]
    assert "no such package" in capsys.readouterr().err


def test_missing_pango_without_rights_is_said_and_does_not_stop(
    copy: Copy, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    module = copy.load()
    monkeypatch.setattr(module.ctypes.util, "find_library", lambda _name: None)
    monkeypatch.setattr(module, "may_install_packages", lambda: False)
    module.ensure_pango()
    said = capsys.readouterr().err
    assert "apt-get install -y libpango-1.0-0" in said
    assert "everything else works" in said


def test_missing_pango_with_rights_is_installed(copy: Copy, monkeypatch: pytest.MonkeyPatch) -> None:
    module = copy.load()
    ran: list[tuple[str, ...]] = []

    def apt_install(packages: tuple[str, ...]) -> bool:
        ran.append(packages)
        return True

    monkeypatch.setattr(module.ctypes.util, "find_library", lambda _name: None)
    monkeypatch.setattr(module, "may_install_packages", lambda: True)
    monkeypatch.setattr(module, "apt_install", apt_install)
    module.ensure_pango()
    assert [set(packages) for packages in ran] == [
        {"libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0", "fonts-dejavu-core"}
    ]


@pytest.mark.skipif(os.name == "nt", reason="signals of another kind there")
def test_a_stop_from_outside_reaches_the_command_and_is_waited_for(ready_copy: Copy) -> None:
    (ready_copy.root / "tests" / "run.py").write_text(
        "import signal, sys, time\n"
        "def run_tests(arguments):\n"
        "    signal.signal(signal.SIGTERM, lambda *_: (print('tidied up', flush=True), sys.exit(9)))\n"
        "    print('running', flush=True)\n"
        "    time.sleep(60)\n"
    )
    environ = {name: value for name, value in os.environ.items() if name not in OWN_VARIABLES}
    with subprocess.Popen(
        [plain_python(), "manage.py", "test"], cwd=ready_copy.root, env=environ, stdout=subprocess.PIPE, text=True
    ) as run:
        assert run.stdout is not None
        assert run.stdout.readline() == "running\n"
        started = time.monotonic()
        run.terminate()
        assert run.stdout.read() == "tidied up\n"
        assert run.wait(timeout=30) == 9
        assert time.monotonic() - started < 30


def test_too_old_a_python_is_told_so(
    copy: Copy, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    module = copy.load()
    monkeypatch.setattr(sys, "version_info", (3, 10, 0))
    assert module.main(["demo"]) == 3
    assert "3.11 or newer is needed" in capsys.readouterr().err
