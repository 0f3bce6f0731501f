"""How Jinja writes the code of our templates and texts: what stands in ``{{ … }}`` is shown by one call."""

from __future__ import annotations

from jinja2.compiler import CodeGenerator


class Direct(CodeGenerator):
    """Code that leaves everything to the environment's ``finalize``, which gives text that is ready to be put in.

    Jinja's own calls ``finalize`` and then escapes what comes back; a page has five thousand such places. And it would
    work a constant out once, for the first reader.
    """

    def _make_finalize(self) -> CodeGenerator._FinalizeInfo:
        return self._FinalizeInfo(None, None)

    def _output_child_pre(self, *_: object) -> None:
        self.write("environment.finalize(")

    def _output_child_post(self, *_: object) -> None:
        self.write(")")
