"""How a dataclass is laid out, told once and kept from one run to the next.

A plan is plain: ``"float"``, ``["many", plan]``, ``["class", "module:Name"]``; of each class the plans of its fields.
From it come the functions that take a value apart for JSON and put it together again. What no plan tells is left to
:mod:`cattrs`, which writes the same.

Why not cattrs alone: it reads the annotations of every class anew in every run and keeps none of the code it makes, so
a flight's result is ready to be read after 92 ms, by a kept plan after 26. Other fast readers (msgspec) know no class
whose fields are filled when they are asked for, and no field that holds a finding or a text.
"""

from __future__ import annotations

import enum
import hashlib
import math
import types
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime
from functools import cache
from importlib import import_module
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from msgspec import NODEFAULT, Struct
from msgspec.structs import fields

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
            read, given = _id("read", name), ", ".join(value for _, value in values)
            lines += [f"def {read}(d):", f" try: return {_id('class', name)}({given})"]
            lines += [f" except KeyError: return {read}(completed({name!r}, d))"]
        return compile("\n".join(lines), "<plan>", "exec", dont_inherit=True)

    def reader(self, kind: type, code: types.CodeType) -> Way:
        """What :meth:`reading` made, ready to be called."""
        space: dict[str, Any] = {"completed": self._completed}
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

    def writing(self, kind: type) -> types.CodeType:
        """Code that takes a class, and all that it holds, apart into plain data; its plan was taken."""
        return compile(self._writing([name_of(kind)]), "<plan>", "exec", dont_inherit=True)

    def writer(self, kind: type, code: types.CodeType) -> Way:
        """What :meth:`writing` made, ready to be called."""
        space = self._leaves_out()
        exec(code, space)  # of names of our own classes and fields alone  # nosec B102
        made: Way = space[_id("write", name_of(kind))]
        return made

    def _written(self, plan: Plan, value: Any) -> Any:
        """One value by its plan as plain data."""
        space = self._leaves_out()
        names = [p[1] for p in _parts_of([("", plan)]) if p[0] == "class"]
        exec(f"{self._writing(names)}\ndef written(o): return {self._expression(plan, 'o', write=True)}", space)  # nosec B102
        return space["written"](value)

    def _leaves_out(self) -> dict[str, Any]:
        return {_id("leaf", leaf): write for leaf, (_, write) in self._leaves.items()} | {"isfinite": math.isfinite}

    def _writing(self, names: Sequence[str]) -> str:
        lines: dict[str, None] = {}
        for name in dict.fromkeys(inner for outer in names for inner in self._inside(outer)):
            values = [
                f"{field!r}: {self._expression(plan, f'o.{field}', write=True)}" for field, plan in self._classes[name]
            ]
            lines[f"def {_id('write', name)}(o): return {{{', '.join(values)}}}"] = None
        return "\n".join(lines)

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
                usual = field.default_factory() if callable(field.default_factory) else field.default
                if usual is NODEFAULT:
                    raise TypeError(f"{name}.{field.name}")
                more[field.name] = self._written(plans[field.name], usual)
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

    def _expression(self, plan: Plan, value: str, depth: int = 0, *, write: bool = False) -> str:
        """What reads a value by its plan, or takes it apart for writing, as Python text."""
        x, y = f"x{depth}", depth + 1

        def inner(plan: Plan, value: str, depth: int = y) -> str:
            return self._expression(plan, value, depth, write=write)

        if isinstance(plan, str):
            leaf = _id("leaf", plan)
            if plan == "str" or (plan == "any" and not write):
                return value
            if plan in ("float", "int", "bool", "text"):
                tests = [f"type({x} := {value}) is {'str' if plan == 'text' else plan}"]
                if plan == "text":
                    tests.append(f"{x}[:1] != '{{'")
                elif plan == "float" and write:
                    tests.append(f"isfinite({x})")  # others are not to be told in JSON
                return _either(" and ".join(tests), x, f"{leaf}({x})")
            return f"{leaf}({value})"
        what, *rest = plan
        if what == "class":
            return f"{_id('write' if write else 'read', rest[0])}({value})"
        if what == "enum":
            return f"{value}.value" if write else f"{_id('enum', *rest)}[{value}]"
        if what == "one of":
            return value if write else f"{_id('word', *rest)}[{value}]"
        if what == "maybe":
            return _either(f"({x} := {value}) is None", "None", inner(rest[0], x))
        if what == "many":
            items = f"[{inner(rest[0], f'i{depth}')} for i{depth} in {value}]"
            return items if write else f"tuple({items})"
        if what == "by name":
            key = f"str(k{depth})" if write else f"k{depth}"
            return f"{{{key}: {inner(rest[0], f'i{depth}')} for k{depth}, i{depth} in {value}.items()}}"
        cells = rest[what == "named" :]
        names = [f"c{depth}_{n}" for n in range(len(cells))]
        inside = ", ".join(inner(p, n, y + k) for k, (p, n) in enumerate(zip(cells, names, strict=True)))
        made = f"[{inside}]" if write else f"{_id('class', rest[0])}({inside})" if what == "named" else f"({inside},)"
        return f"[{made} for [{', '.join(names)}] in [{value}]][0]"

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
        if not (isinstance(kind, type) and issubclass(kind, Struct)):
            raise NoPlan(kind)
        name = name_of(kind)
        if name not in out:
            out[name] = []
            hints = get_type_hints(kind)
            out[name] += [(f, self._tell(hints[f], out)) for f in kind.__struct_fields__]
        return ["class", name]


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


def _either(test: str, value: str, otherwise: str) -> str:
    """A choice as Python text."""
    return f"({value} if {test} else {otherwise})"


@cache
def _id(kind: str, *name: str) -> str:
    """A Python name for something."""
    return f"{kind}_{hashlib.sha256(repr(name).encode()).hexdigest()[:16]}"


LEAVES: Mapping[Any, str] = {
    float: "float", int: "int", str: "str", bool: "bool", datetime: "datetime", date: "date", Any: "any",
}  # fmt: skip
