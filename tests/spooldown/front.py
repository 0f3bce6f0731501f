"""The command, run in this process: the same front door, without the wait for a new interpreter."""

from __future__ import annotations

import io
import os
import sys
from contextlib import ExitStack, redirect_stderr, redirect_stdout
from pathlib import Path
from unittest import mock

from msgspec import Struct

from spooldown import cli

ANY_SHELL = {"_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION": "1"}
"""Lets a shell be named, whichever one runs the tests: ``sh`` has no completion."""


class Done(Struct, frozen=True):
    returncode: int
    stdout: str
    stderr: str
    raw: bytes


def run(*words: object, stdin: bytes = b"", env: dict[str, str] | None = None) -> Done:
    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", write_through=True) for _ in range(2))
    with ExitStack() as stack:
        # A test runner's own width is none of the command's: its output goes to a pipe here.
        around = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "LINES")}
        stack.enter_context(mock.patch.dict(os.environ, {**around, **(env or {})}, clear=True))
        stack.enter_context(mock.patch.object(sys, "stdin", io.TextIOWrapper(io.BytesIO(stdin), "utf-8")))
        stack.enter_context(mock.patch.object(sys, "argv", ["spooldown", *map(str, words)]))
        stack.enter_context(redirect_stdout(out))
        stack.enter_context(redirect_stderr(err))
        code = 1
        try:
            cli.main()
        except SystemExit as end:
            code = int(end.code or 0)
    raw = out.buffer.getvalue()  # type: ignore[attr-defined]
    return Done(code, raw.decode(), err.buffer.getvalue().decode(), raw)  # type: ignore[attr-defined]


def everything(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def said_once(done: Done) -> str:
    """Return what stopped a command: one sentence, no traceback, no word of a fault of ours."""
    assert done.returncode not in (0, 1), (done.returncode, done.stderr)
    (line,) = done.stderr.strip().splitlines()
    assert line.startswith("spooldown: ")
    assert line.endswith((".", "?"))
    assert "fault in spooldown" not in line
    return line
