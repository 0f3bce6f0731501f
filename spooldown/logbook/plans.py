"""How a dataclass is laid out, told once and kept: reading annotations anew in every run takes most of a second.

A plan is plain: ``"float"``, ``["many", plan]``, ``["class", "module:Name"]``; of each class the plans of its fields.
From it come the functions that take a value apart for JSON and put it together again. What no plan tells is left to
:mod:`cattrs`, which writes the same.
"""

from __future__ import annotations

import enum
import types
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from importlib import import_module
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

Plan = Any
Way = Callable[[Any], Any]
"""Makes plain data of a value, or the other way round."""


class NoPlan(TypeError):
    """Some annotation is none that a plan tells."""


class Plans:
    """Plans of classes and the functions made from them.

    Parameters
    ----------
    leaves : mapping of str to (callable, callable)
        By name, what reads and writes a value that is no class, tuple or mapping of these.
    leaf_of : callable
        Name of the leaf that an annotation is, '' where it is none.
    """

    def __init__(self, leaves: Mapping[str, tuple[Way, Way]], leaf_of: Callable[[Any], str]) -> None:
        self._leaves, self._leaf_of = leaves, leaf_of
        self._readers: dict[str, Way] = {}
        self._writers: dict[str, Way] = {}
        self._classes: dict[str, list[tuple[str, Plan]]] = {}

    def told(self, kind: type) -> dict[str, list[tuple[str, Plan]]]:
        """The plan of a class and of all that it holds, by name.

        Raises
        ------
        NoPlan
            If some annotation in it is none that a plan tells.
        """
        out: dict[str, list[tuple[str, Plan]]] = {}
        self._tell(kind, out)
        return out

    def take(self, classes: Mapping[str, list[tuple[str, Plan]]]) -> None:
        """Take the plans of some classes, as :meth:`told` gave them."""
        self._classes.update(classes)

    def reader(self, kind: type) -> Way:
        """What puts a class together from plain data; its plan was taken."""
        return self._reader(["class", name_of(kind)])

    def writer(self, kind: type) -> Way:
        """What takes a class apart into plain data; its plan was taken."""
        return self._writer(["class", name_of(kind)])

    def _tell(self, kind: Any, out: dict[str, list[tuple[str, Plan]]]) -> Plan:
        if leaf := self._leaf_of(kind):
            return leaf
        origin, inside = get_origin(kind), get_args(kind)
        if origin in (Union, types.UnionType) and len(inside) == 2 and type(None) in inside:
            return ["maybe", self._tell(next(k for k in inside if k is not type(None)), out)]
        if origin is Literal and all(isinstance(value, str) for value in inside):
            return ["one of", *inside]
        if origin is tuple and len(inside) == 2 and inside[1] is Ellipsis:
            return ["many", self._tell(inside[0], out)]
        if origin is tuple and inside:
            return ["row", *(self._tell(k, out) for k in inside)]
        if isinstance(origin, type) and issubclass(origin, Mapping) and inside[0] is str:
            return ["by name", self._tell(inside[1], out)]
        if isinstance(kind, type) and issubclass(kind, enum.Enum):
            return ["enum", name_of(kind)]
        if isinstance(kind, type) and issubclass(kind, tuple) and hasattr(kind, "_fields"):
            hints = get_type_hints(kind)
            return ["named", name_of(kind), *(self._tell(hints[n], out) for n in kind._fields)]
        if not (isinstance(kind, type) and is_dataclass(kind)):
            raise NoPlan(kind)
        name = name_of(kind)
        if name not in out:
            out[name] = []
            hints = get_type_hints(kind)
            if any(not f.init or f.kw_only for f in fields(kind)):
                raise NoPlan(kind)
            out[name] += [(f.name, self._tell(hints[f.name], out)) for f in fields(kind)]
        return ["class", name]

    def _reader(self, plan: Plan) -> Way:
        if isinstance(plan, str):
            return self._leaves[plan][0]
        what, *rest = plan
        if what == "class":
            return self._known(rest[0], self._readers, self._class_reader)
        if what == "enum":
            chosen: Way = _class(rest[0])
            return chosen
        if what == "maybe":
            inner = self._reader(rest[0])
            return lambda data: None if data is None else inner(data)
        if what == "many":
            inner = self._reader(rest[0])
            return lambda data: tuple([inner(item) for item in data])
        if what == "by name":
            inner = self._reader(rest[0])
            return lambda data: {key: inner(item) for key, item in data.items()}
        if what == "one of":
            return _chosen(frozenset(rest))
        cells = [self._reader(p) for p in rest[what == "named" :]]
        row: Way = lambda data: tuple(read(item) for read, item in zip(cells, data, strict=True))  # noqa: E731
        if what == "row":
            return row
        named = _class(rest[0])
        return lambda data: named(*row(data))

    def _writer(self, plan: Plan) -> Way:
        if isinstance(plan, str):
            return self._leaves[plan][1]
        what, *rest = plan
        if what == "class":
            return self._known(rest[0], self._writers, self._class_writer)
        if what == "enum":
            return lambda value: value.value
        if what == "maybe":
            inner = self._writer(rest[0])
            return lambda value: None if value is None else inner(value)
        if what == "many":
            inner = self._writer(rest[0])
            return lambda value: [inner(item) for item in value]
        if what == "by name":
            inner = self._writer(rest[0])
            return lambda value: {str(key): inner(item) for key, item in value.items()}
        if what == "one of":
            return lambda value: value
        cells = [self._writer(p) for p in rest[what == "named" :]]
        return lambda value: [write(item) for write, item in zip(cells, value, strict=True)]

    def _known(self, name: str, made: dict[str, Way], make: Callable[[str], Way]) -> Way:
        if name not in made:

            def later(data: Any) -> Any:  # a class may hold itself
                return made[name](data)

            made[name] = later
            made[name] = make(name)
        return made[name]

    def _class_reader(self, name: str) -> Way:
        kind = _class(name)
        parts = [(field, self._reader(plan)) for field, plan in self._classes[name]]

        def read(data: Any) -> Any:
            try:
                return kind(*[inner(data[field]) for field, inner in parts])
            except KeyError:  # kept before the field was there
                return kind(**{field: inner(data[field]) for field, inner in parts if field in data})

        return read

    def _class_writer(self, name: str) -> Way:
        parts = [(field, self._writer(plan)) for field, plan in self._classes[name]]
        return lambda value: {field: inner(getattr(value, field)) for field, inner in parts}


def name_of(kind: type) -> str:
    """Where a class is found again: ``module:Name``."""
    if "<" in kind.__qualname__:  # made inside a function
        raise NoPlan(kind)
    return f"{kind.__module__}:{kind.__qualname__}"


def _class(name: str) -> Any:
    module, _, path = name.partition(":")
    found: Any = import_module(module)
    for part in path.split("."):
        found = getattr(found, part)
    return found


def _chosen(known: frozenset[str]) -> Way:
    def read(data: Any) -> Any:
        if data not in known:
            raise ValueError(f"{data!r} is none of {sorted(known)}")
        return data

    return read


LEAVES: Mapping[Any, str] = {
    float: "float", int: "int", str: "str", bool: "bool", datetime: "datetime", date: "date", Any: "any",
}  # fmt: skip
