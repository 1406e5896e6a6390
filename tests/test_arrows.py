"""Who may lean on whom: the arrows of import between the apps, and between the layers inside them."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from django.apps import apps
from django.db.migrations.loader import MigrationLoader

from tests.shape import FLEET, ROOT, imported_names, imports_of, module_name, python_files

# From each app to those it may lean on; what stands to the right of a target's own arrows is included.
ARROWS: dict[str, set[str]] = {
    "calculation": set(),
    "core": {"calculation"},
    "accounts": {"core"},
    "vessels": {"accounts"},
    "drums": {"vessels"},
    "gauges": {"vessels"},
    "records": {"drums", "gauges"},
    "drift": {"records"},
    "certificates": {"records"},
    "review": {"records", "drift", "certificates"},
    "simulation": {"calculation"},
    "practice": {"simulation", "accounts"},
}
# Inside an app, and across apps where the arrow between them is allowed.
LAYERS: dict[str, set[str]] = {
    "urls": {"urls", "views", "forms", "services", "models"},
    "views": {"views", "forms", "services", "models"},
    "forms": {"forms", "models"},
    "services": {"services", "models"},
    "models": {"models"},
}


def reach(app: str) -> set[str]:
    """Every app that one may lean on, itself among them."""
    found = {app}
    for target in ARROWS[app]:
        found |= reach(target)
    return found


def app_of(module: str) -> str:
    """fleet.drums.models → drums"""
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else ""


def layer_of(module: str) -> str:
    """The layer a module's name puts it in: fleet.records.services.drafts and fleet.drums.drum_views have one."""
    for part in module.split(".")[2:]:
        for layer in LAYERS:
            if part == layer or part.startswith(f"{layer}_") or part.endswith(f"_{layer}"):
                return layer
    return ""


def is_exempt(path: Path) -> bool:
    """urls.py, commands, and the files that tie the project together."""
    parts = path.relative_to(FLEET).parts
    return len(parts) == 1 or path.name == "urls.py" or "commands" in parts


def wrong_app(module: str, target: str) -> bool:
    """Whether an import goes against the arrows between apps."""
    other = app_of(target)
    return target.startswith("fleet.") and other in ARROWS and other not in reach(app_of(module))


def wrong_layer(module: str, target: str) -> bool:
    """Whether an import goes against the arrows between layers."""
    source, other = layer_of(module), layer_of(target)
    return target.startswith("fleet.") and bool(source and other) and other not in LAYERS[source]


def test_every_folder_of_the_product_has_its_arrows_written_down() -> None:
    packages = {path.parent.name for path in FLEET.glob("*/__init__.py")}
    assert packages <= set(ARROWS), "name the new app's arrows in ARROWS and in the design first"


def test_the_arrows_have_no_ring() -> None:
    for app in ARROWS:
        assert app not in {further for target in ARROWS[app] for further in reach(target)}


def test_no_import_goes_against_the_arrows_between_apps() -> None:
    wrong = [
        f"{path.relative_to(ROOT)}:{line} imports {target}"
        for path in python_files()
        if not is_exempt(path)
        for line, target in imports_of(path)
        if wrong_app(module_name(path), target)
    ]
    assert wrong == []


def test_no_import_goes_against_the_arrows_between_layers() -> None:
    wrong = [
        f"{path.relative_to(ROOT)}:{line} imports {target}"
        for path in python_files()
        if "commands" not in path.parts and "migrations" not in path.parts
        for line, target in imports_of(path)
        if wrong_layer(module_name(path), target)
    ]
    assert wrong == []


def test_no_model_points_against_the_arrows() -> None:
    wrong = [
        f"{model._meta.label}.{field.name} → {field.related_model._meta.label}"
        for model in apps.get_models()
        if model._meta.app_label in ARROWS
        for field in model._meta.get_fields()
        if field.is_relation
        and not field.auto_created
        and field.related_model is not None
        and not isinstance(field.related_model, str)
        and field.related_model._meta.app_label in set(ARROWS) - reach(model._meta.app_label)
    ]
    assert wrong == []


def test_no_migration_depends_against_the_arrows() -> None:
    wrong = [
        f"{app}.{name} depends on {other}.{earlier}"
        for (app, name), migration in MigrationLoader(None).disk_migrations.items()
        if app in ARROWS
        for other, earlier in (*migration.dependencies, *((after, app) for after, _ in migration.run_before))
        if other in set(ARROWS) - reach(app)
    ]
    assert wrong == []


def test_services_take_no_request() -> None:
    wrong = []
    for path in python_files():
        if layer_of(module_name(path)) != "services":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
                continue
            names = {arg.arg for arg in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)}
            if "request" in names:
                wrong.append(f"{path.relative_to(ROOT)}:{node.lineno}")
    assert wrong == []


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("fleet.core.audit", "from fleet.records import models"),
        ("fleet.core.audit", "def late():\n    from ..accounts.models import User"),
        ("fleet.drums.models", "from fleet.gauges.models import Gauge"),
        ("fleet.calculation.brake", "import fleet.core"),
        ("fleet.certificates.services", "apps.get_model('review.Note')"),
        ("fleet.records.services", "import_module('fleet.certificates.pdf')"),
        ("fleet.simulation.brake", "from fleet.core.pictures import jack_side"),
        ("fleet.simulation.brake", "from fleet.accounts.models import User"),
        ("fleet.practice.run", "from fleet.records.draft import CHECKS"),
    ],
)
def test_an_import_against_the_arrows_between_apps_is_seen(module: str, source: str) -> None:
    assert any(wrong_app(module, target) for _, target in imported_names(source, module))


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("fleet.drums.models", "from fleet.drums.services import drum_create"),
        ("fleet.drums.models", "from . import services"),
        ("fleet.records.services.drafts", "from ..forms import DraftForm"),
        ("fleet.records.services", "from fleet.drums import views"),
        ("fleet.drums.drum_forms", "from fleet.drums.views import drum_page"),
    ],
)
def test_an_import_against_the_arrows_between_layers_is_seen(module: str, source: str) -> None:
    assert any(wrong_layer(module, target) for _, target in imported_names(source, module))


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("fleet.review.views", "from fleet.drums.services import retest_order"),
        ("fleet.review.services", "from fleet.calculation import brake"),
        ("fleet.drums.models", "from .figures import Figure"),
        ("fleet.practice.views", "from fleet.simulation import brake"),
    ],
)
def test_an_import_along_the_arrows_is_allowed(module: str, source: str) -> None:
    targets = [target for _, target in imported_names(source, module)]
    assert targets
    assert not any(wrong_app(module, target) or wrong_layer(module, target) for target in targets)
