"""The house rules that can be read from the files themselves."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.shape import FLEET, ROOT, imports_package, policy_breaches, python_files

MOST_LINES = 400
CALCULATION = FLEET / "calculation"
INLINE_STYLE_IN_CODE = re.compile(r"<\w[^>\n]*\s(style|on[a-z]+)=\\?[\"']")


def names(paths: list[Path]) -> list[str]:
    return [path.relative_to(ROOT).as_posix() for path in paths]


def fresh_python(code: str) -> subprocess.CompletedProcess[str]:
    """Run code in a new interpreter that has imported nothing yet."""
    return subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=120)


def test_no_file_of_the_product_outgrows_400_lines() -> None:
    long = {
        path.relative_to(ROOT).as_posix(): lines
        for path in [*python_files(), ROOT / "manage.py"]
        if "migrations" not in path.parts and (lines := len(path.read_text(encoding="utf-8").splitlines())) > MOST_LINES
    }
    assert long == {}


def test_the_pdf_library_is_imported_in_one_file_at_most() -> None:
    assert len(names([path for path in python_files() if imports_package(path, "weasyprint")])) <= 1


def test_services_open_their_transaction_where_audit_entries_are_chained() -> None:
    """A plain transaction would hold a chain's head while it still asks for other rows."""
    # Putting a backup back brings its own entries and adds none.
    exempt = {FLEET / "core" / "audit.py", FLEET / "review" / "backups.py"}
    plain = [
        path
        for path in python_files()
        if path not in exempt
        and not {"migrations", "management"}.intersection(path.parts)
        and "transaction.atomic" in path.read_text(encoding="utf-8")
    ]
    assert names(plain) == []


def test_the_units_library_stays_in_the_units_module_and_the_core_fields() -> None:
    allowed = {CALCULATION / "units.py", *(FLEET / "core").glob("*fields*.py")}
    assert names([path for path in python_files() if imports_package(path, "pint") and path not in allowed]) == []


def test_the_calculation_package_names_no_django() -> None:
    assert names([path for path in python_files(CALCULATION) if imports_package(path, "django")]) == []


def test_the_calculation_package_imports_without_django() -> None:
    done = fresh_python(
        "import importlib, pkgutil, sys, fleet.calculation as package\n"
        "for found in pkgutil.walk_packages(package.__path__, 'fleet.calculation.'):\n"
        "    importlib.import_module(found.name)\n"
        "print(len([name for name in sys.modules if name.startswith('fleet.calculation.')]))\n"
        "print(sorted(name for name in sys.modules if name.split('.')[0] == 'django'))\n"
    )
    assert done.returncode == 0, done.stderr
    number, django = done.stdout.splitlines()
    assert int(number) > 0
    assert django == "[]"


def test_the_units_module_asks_for_no_scipy() -> None:
    assert not imports_package(CALCULATION / "units.py", "scipy")


@pytest.mark.parametrize("kind", ["*.html", "*.svg"])
def test_no_template_carries_what_the_content_policy_blocks(kind: str) -> None:
    wrong = {
        path.relative_to(ROOT).as_posix(): breaches
        for path in sorted(FLEET.rglob(kind))
        if (breaches := policy_breaches(path.read_text(encoding="utf-8")))
    }
    assert wrong == {}


def test_no_code_writes_inline_style_or_script_attributes() -> None:
    assert names([path for path in python_files() if INLINE_STYLE_IN_CODE.search(path.read_text("utf-8"))]) == []


@pytest.mark.parametrize(
    "template",
    [
        '<p style="color: red">',
        "<style>p {}</style>",
        "<script>go()</script>",
        '<a href="/x"\n   onclick="go()">',
        '<a {% if x %}ONCLICK="go()"{% endif %} href="{% url "x" %}">',
        '<button hx-on:click="go()">',
        '<a href="javascript:go()">',
        '<script src="//cdn.example/x.js"></script>',
        '<circle r="1" style="fill: red"/>',
    ],
)
def test_a_template_that_the_content_policy_would_block_is_seen(template: str) -> None:
    assert policy_breaches(template)


@pytest.mark.parametrize(
    "template",
    [
        '<p class="style">The set-up is on = off</p>',
        '{% include "core/_strip.html" with style="plain" %}<p title="a > b onclick=x">',
        '<script src="{% static "deck.js" %}" defer></script>',
        '<script type="application/json" id="data">{}</script>',
        '{# style="" #}{% comment %}<style>{% endcomment %}<a href="https://example.org">out</a>',
        '<rect width="3" fill="#0b5c7a"/><option value="on" selected>',
    ],
)
def test_a_template_in_order_is_left_alone(template: str) -> None:
    assert policy_breaches(template) == []
