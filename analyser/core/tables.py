"""Results as tables: a short line in a shell, a table in a notebook, a frame for further work."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import pyarrow as pa

from analyser.core.figures import figures_of

if TYPE_CHECKING:
    import pandas as pd


class Tabular:
    """A result that shows itself as a table of its figures.

    A record takes it as its first base, so that its ``repr`` is the one that counts.
    """

    __slots__ = ()

    def to_frame(self) -> pd.DataFrame:
        """Every figure in the result, one row each, by its path.

        Returns
        -------
        pandas.DataFrame
            Index ``figure`` (``tanks.left.burn.burned``); columns ``value``, ``unit``, ``low``, ``high``,
            ``confidence`` and ``method``. Values are in ``unit``; NaN where the log cannot support the figure.
        """
        import pandas as pd

        rows = [
            {
                "figure": path,
                "value": f.value,
                "unit": f.unit,
                "low": f.low,
                "high": f.high,
                "confidence": f.confidence if f.low is not None else None,
                "method": f.method.value,
            }
            for path, f in figures_of(self)
        ]
        names = ["figure", "value", "unit", "low", "high", "confidence", "method"]
        frame = pd.DataFrame(rows, columns=names).set_index("figure")
        return frame.astype({"value": float, "low": float, "high": float, "confidence": float})

    def _repr_html_(self) -> str:
        known = self.to_frame().dropna(subset=["value"])
        return str(known.to_html(max_rows=60, na_rep="", float_format=lambda v: f"{v:.4g}"))

    def __repr__(self) -> str:
        known = sum(f.value is not None for _, f in figures_of(self))
        return f"{type(self).__name__}({known} figures)"


class _NoPandas:
    """Stands before the usual ways to find a module, for one moment."""

    @staticmethod
    def find_spec(name: str, _path: object = None, _target: object = None) -> None:
        if name == "pandas":
            raise ModuleNotFoundError(name=name)


def spare_pandas() -> None:
    """Keep pyarrow from loading pandas until somebody asks for a frame.

    With the first array it makes pyarrow looks for pandas, to know its types; that takes a fifth of a second, and few
    commands hold any. Told once that there is none, it looks again only where it is asked for a frame.
    """
    if "pandas" in sys.modules:
        return
    sys.meta_path.insert(0, _NoPandas)
    try:
        pa.array([])
    finally:
        sys.meta_path.remove(_NoPandas)
