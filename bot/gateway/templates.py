"""Names and values with {placeholders}, filled for one text.

A template that is nothing but one placeholder of a number stays a number where the body is JSON. Braces
around anything but a name are left alone, so that JSON and other notations can be written as they are.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

Template = str | int | float | bool | dict[str, Any] | list[Any]

_PLACEHOLDER = re.compile(r"\{([a-z][a-z0-9_]*)\}")


def names(template: object) -> frozenset[str]:
    """Give the names of all placeholders, however deep."""
    match template:
        case str():
            return frozenset(_PLACEHOLDER.findall(template))
        case dict():
            return frozenset().union(*(names(k) | names(v) for k, v in template.items()))
        case list() | tuple():
            return frozenset().union(*map(names, template))
    return frozenset()


def fill(template: str, values: Mapping[str, str], quote: Callable[[str], str] = str) -> str:
    """Put values into a template; `quote` codes each of them, not what stands around them."""
    return _PLACEHOLDER.sub(lambda found: quote(values[found[1]]), template)


def fill_all(template: Any, values: Mapping[str, str], numbers: Mapping[str, int]) -> Any:
    """Fill every name and value of a nested template."""
    match template:
        case str():
            alone = _PLACEHOLDER.fullmatch(template)
            if alone and alone[1] in numbers:
                return numbers[alone[1]]
            return fill(template, values)
        case dict():
            return {fill(k, values): fill_all(v, values, numbers) for k, v in template.items()}
        case list():
            return [fill_all(each, values, numbers) for each in template]
    return template
