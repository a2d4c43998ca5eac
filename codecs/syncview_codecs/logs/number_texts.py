"""Numbers written as words: decimal commas, groups of thousands."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from syncview_codecs.logs.table import FloatArray

if TYPE_CHECKING:
    import pandas as pd

_THOUSANDS = r"^[+-]?\d{1,3}(?:,\d{3})+(?:\.\d*)?$"
_THOUSANDS_BY_POINT = r"^[+-]?\d{1,3}(?:\.\d{3})+(?:,\d*)?$"


def numbers_of(text: pd.Series[str], decimal: str) -> FloatArray:
    """Stripped texts as float64, shape (n,), NaN where a text is no number; `decimal` is the file's decimal mark."""
    import pandas as pd

    grouped, separator = (_THOUSANDS, ",") if decimal == "." else (_THOUSANDS_BY_POINT, ".")
    groups = text.str.match(grouped).fillna(False).astype(bool)
    plain = text.where(~groups, text.str.replace(separator, "", regex=False))
    if decimal == ",":
        plain = plain.str.replace(",", ".", regex=False)
    numbers = pd.to_numeric(plain, errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    return np.array(numbers, dtype=np.float64)
