"""How Jinja writes the code of our templates and texts: what stands in ``{{ … }}`` is shown by one call."""

from __future__ import annotations

from jinja2.compiler import CodeGenerator, Frame
from jinja2.nodes import Call, Expr, FromImport, Macro, Name, Template


class Direct(CodeGenerator):
    """Code that leaves everything to the environment's ``finalize``, which gives text that is ready to be put in.

    Jinja's own calls ``finalize`` and then escapes what comes back; a page has five thousand such places. And it would
    work a constant out once, for the first reader.
    """

    def _make_finalize(self) -> CodeGenerator._FinalizeInfo:
        return self._FinalizeInfo(None, None)

    def visit_Template(self, node: Template, frame: Frame | None = None) -> None:
        """Note which names are macros: what they give is ready."""
        imported = (name for found in node.find_all(FromImport) for name in found.names)
        self._macros = {"caller", *(n if isinstance(n, str) else n[1] for n in imported)}
        self._macros.update(macro.name for macro in node.find_all(Macro))
        super().visit_Template(node, frame)

    def _output_child_pre(self, node: Expr, *_: object) -> None:
        ready = isinstance(node, Call) and isinstance(node.node, Name) and node.node.name in self._macros
        self.write("(" if ready else "environment.finalize(")

    def _output_child_post(self, *_: object) -> None:
        self.write(")")
