"""How a dataclass is laid out, told once and kept: reading annotations anew in every run takes most of a second.

A plan is plain: ``"float"``, ``["many", plan]``, ``["class", "module:Name"]``; of each class the plans of its fields.
From it come the functions that take a value apart for JSON and put it together again. What no plan tells is left to
:mod:`cattrs`, which writes the same.
"""

from __future__ import annotations

import enum
import hashlib
import types
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import MISSING, fields, is_dataclass
from datetime import date, datetime
from functools import cache
from importlib import import_module
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from analyser.core.late import Late, later

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

    def reading(self, kind: type) -> types.CodeType:
        """Code that puts a class, and all that it holds, together from plain data; its plan was taken.

        One function a class, each value by an expression of its own: a season reads hundreds of thousands of values.
        """
        lines: list[str] = []
        for name in self._inside(name_of(kind)):
            values = [(field, self._expression(plan, f"d[{field!r}]")) for field, plan in self._classes[name]]
            read, fill, kind_ = _id("read", name), _id("fill", name), _id("class", name)
            if issubclass(_class(name), Late):
                lines += [f"def {fill}(o, d):", " try:"]
                lines += [f"  put(o, {field!r}, {value})" for field, value in values]
                lines += [f" except KeyError: {fill}(o, completed({name!r}, d))"]
                lines += [f"def {read}(d): return later({kind_}, {fill}, d)"]
            else:
                given = ", ".join(value for _, value in values)
                lines += [f"def {read}(d):", f" try: return {kind_}({given})"]
                lines += [f" except KeyError: return {read}(completed({name!r}, d))"]
        return compile("\n".join(lines), "<plan>", "exec", dont_inherit=True)

    def reader(self, kind: type, code: types.CodeType) -> Way:
        """What :meth:`reading` made, ready to be called."""
        space: dict[str, Any] = {"put": object.__setattr__, "later": later, "completed": self._completed}
        for leaf, (read, _) in self._leaves.items():
            space[_id("leaf", leaf)] = read
        for name in self._inside(name_of(kind)):
            space[_id("class", name)] = _class(name)
            for plan in _parts_of(self._classes[name]):
                if plan[0] == "enum":
                    space[_id("enum", plan[1])] = {member.value: member for member in _class(plan[1])}
                elif plan[0] == "named":
                    space[_id("class", plan[1])] = _class(plan[1])
                elif plan[0] == "one of":
                    space[_id("word", *plan[1:])] = {word: word for word in plan[1:]}
        exec(code, space)  # of names of our own classes and fields alone  # nosec B102
        made: Way = space[_id("read", name_of(kind))]
        return made

    def _completed(self, name: str, data: Mapping[str, Any]) -> dict[str, Any]:
        """What was kept before some field was there, with what that field is where nobody says.

        Raises
        ------
        TypeError
            If something is missing that has no such value.
        ValueError
            If nothing is missing.
        """
        plans, more = dict(self._classes[name]), {}
        for field in fields(_class(name)):
            if field.name not in data:
                usual = field.default if field.default_factory is MISSING else field.default_factory()
                if usual is MISSING:
                    raise TypeError(f"{name}.{field.name}")
                more[field.name] = self._writer(plans[field.name])(usual)
        if not more:
            raise ValueError(name)
        return {**data, **more}

    def _inside(self, name: str) -> list[str]:
        """A class and all that it holds, by name."""
        found, open_ = [name], [name]
        while open_:
            for plan in _parts_of(self._classes[open_.pop()]):
                if plan[0] == "class" and plan[1] not in found:
                    found.append(plan[1])
                    open_.append(plan[1])
        return found

    def _expression(self, plan: Plan, value: str, depth: int = 0) -> str:
        """What reads a value by its plan, as Python text."""
        x, y = f"x{depth}", depth + 1
        if isinstance(plan, str):
            if plan in ("str", "any"):
                return value
            if plan in ("float", "int", "bool"):
                return f"({x} if type({x} := {value}) is {plan} else {_id('leaf', plan)}({x}))"
            if plan == "text":
                return f"({x} if type({x} := {value}) is str  and {x}[:1] != '{{' else {_id('leaf', plan)}({x}))"
            return f"{_id('leaf', plan)}({value})"
        what, *rest = plan
        if what == "class":
            return f"{_id('read', rest[0])}({value})"
        if what in ("enum", "one of"):
            return f"{_id('enum' if what == 'enum' else 'word', *rest)}[{value}]"
        if what == "maybe":
            return f"(None if ({x} := {value}) is None  else {self._expression(rest[0], x, y)})"
        if what == "many":
            return f"tuple([{self._expression(rest[0], f'i{depth}', y)} for i{depth} in {value}])"
        if what == "by name":
            inner = self._expression(rest[0], f"i{depth}", y)
            return f"{{k{depth}: {inner} for k{depth}, i{depth} in {value}.items()}}"
        cells = rest[what == "named" :]
        names = [f"c{depth}_{n}" for n in range(len(cells))]
        inside = ", ".join(
            self._expression(p, n, depth + 1 + k) for k, (p, n) in enumerate(zip(cells, names, strict=True))
        )
        made = f"{_id('class', rest[0])}({inside})" if what == "named" else f"({inside},)"
        return f"[{made} for [{', '.join(names)}] in [{value}]][0]"

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


def _parts_of(fields_: Sequence[tuple[str, Plan]]) -> Iterator[Plan]:
    """Every plan inside the plans of a class's fields but the leaves."""
    open_ = [plan for _, plan in fields_]
    while open_:
        plan = open_.pop()
        if not isinstance(plan, str):
            yield plan
            open_ += [p for p in plan[1:] if not isinstance(p, str)]


@cache
def _id(kind: str, *name: str) -> str:
    """A Python name for something."""
    return f"{kind}_{hashlib.sha256(repr(name).encode()).hexdigest()[:16]}"


LEAVES: Mapping[Any, str] = {
    float: "float", int: "int", str: "str", bool: "bool", datetime: "datetime", date: "date", Any: "any",
}  # fmt: skip
