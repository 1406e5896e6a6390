"""Reads the shape of the code from its text: which file imports what, and what a template's tags carry."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FLEET = ROOT / "fleet"

DYNAMIC_IMPORTS = {"import_module", "import_string"}
DJANGO_TAG = re.compile(r"{#.*?#}|{%\s*comment\b.*?endcomment\s*%}|{%.*?%}|{{.*?}}", re.DOTALL)
HTML_COMMENT = re.compile(r"<!--.*?-->", re.DOTALL)
QUOTED = re.compile(r"\"[^\"]*\"|'[^']*'")
# An attribute's value may hold ">", so quoted parts are read as one piece.
HTML_TAG = re.compile(r"<([a-zA-Z][\w:-]*)((?:\"[^\"]*\"|'[^']*'|[^>\"'])*)>")
ATTRIBUTE = re.compile(r"(?:^|[\s/])([^\s=/\"'<>]+)\s*=\s*(\"[^\"]*\"|'[^']*'|[^\s\"'>]*)")


def python_files(folder: Path = FLEET) -> list[Path]:
    """The Python files under a folder, in a steady order."""
    return sorted(path for path in folder.rglob("*.py") if "__pycache__" not in path.parts)


def module_name(path: Path, root: Path = ROOT) -> str:
    """fleet/drums/models.py → fleet.drums.models"""
    parts = path.relative_to(root).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported_names(source: str, module: str, *, is_package: bool = False) -> Iterator[tuple[int, str]]:
    """Each thing a source imports, as a full dotted name with its line; names fetched by text count too."""
    package = module.split(".") if is_package else module.split(".")[:-1]
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) - node.level + 1] if node.level else []
            base = ".".join([*above, *([node.module] if node.module else [])])
            for alias in node.names:
                yield node.lineno, f"{base}.{alias.name}"
        elif isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
            text, called = node.args[0].value, node.func
            name = called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")
            if not isinstance(text, str):
                continue
            if name in DYNAMIC_IMPORTS:
                yield node.lineno, text
            elif name == "get_model" and not text.startswith("fleet."):
                yield node.lineno, f"fleet.{text.split('.')[0]}.models"


def imports_of(path: Path) -> list[tuple[int, str]]:
    """What a file imports."""
    source = path.read_text(encoding="utf-8")
    return list(imported_names(source, module_name(path), is_package=path.name == "__init__.py"))


def imports_package(path: Path, package: str) -> bool:
    """Whether a file imports a package or anything in it."""
    return any(name == package or name.startswith(f"{package}.") for _, name in imports_of(path))


def tags(template: str) -> Iterator[tuple[str, dict[str, str]]]:
    """A template's HTML and SVG tags, each with its attributes; Django's own tags are taken out first."""
    text = HTML_COMMENT.sub(" ", DJANGO_TAG.sub(" ", template))
    for match in HTML_TAG.finditer(text):
        attributes = {name.lower(): value.strip("\"'") for name, value in ATTRIBUTE.findall(match[2])}
        bare = QUOTED.sub(" ", ATTRIBUTE.sub(" ", match[2])).split()
        yield match[1].lower(), {**attributes, **{name.lower(): "" for name in bare}}


def policy_breaches(template: str) -> list[str]:
    """What the strict content policy would block, or what would fetch from another host."""
    found = []
    for name, attributes in tags(template):
        if name == "style":
            found.append("<style>")
        if name == "script" and "src" not in attributes and attributes.get("type") != "application/json":
            found.append("<script> without src")
        for attribute, value in attributes.items():
            if attribute == "style" or re.match(r"on[a-z]|hx-on", attribute):
                found.append(f"{attribute}= in <{name}>")
            if value.lower().startswith("javascript:"):
                found.append(f"javascript: in <{name}>")
            if name in {"script", "link", "img", "iframe"} and re.match(r"(https?:)?//", value):
                found.append(f"another host in <{name}>")
    return found
