"""Every address that the product itself answers, read from the URL configuration."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from django.urls import URLPattern, URLResolver, get_resolver


@dataclass(frozen=True)
class Address:
    label: str
    name: str
    parameters: tuple[str, ...]


def patterns(resolver: URLResolver, namespace: str = "") -> Iterator[tuple[str, URLPattern, tuple[str, ...]]]:
    """(full name, pattern, names of the parts that vary), below this resolver."""
    own = tuple(resolver.pattern.converters)
    for found in resolver.url_patterns:
        if isinstance(found, URLResolver):
            inner = f"{namespace}{found.namespace}:" if found.namespace else namespace
            for name, pattern, parameters in patterns(found, inner):
                yield name, pattern, own + parameters
        else:
            yield f"{namespace}{found.name}", found, (*own, *found.pattern.converters)


def is_of_the_sign_in_library(pattern: URLPattern) -> bool:
    return str(getattr(pattern.callback, "__module__", "")).startswith("allauth.")


def all_patterns() -> list[tuple[str, URLPattern, tuple[str, ...]]]:
    return list(patterns(get_resolver()))


def addresses() -> dict[str, Address]:
    """Our own addresses by label; a name that stands for two is told apart by what varies in it."""
    own = [(name, parameters) for name, pattern, parameters in all_patterns() if not is_of_the_sign_in_library(pattern)]
    times = Counter(name for name, _parameters in own)
    found: dict[str, Address] = {}
    for name, parameters in own:
        label = f"{name} by {', '.join(parameters)}" if times[name] > 1 and parameters else name
        assert label not in found, f"two addresses are called {label}"
        found[label] = Address(label, name, parameters)
    return found
