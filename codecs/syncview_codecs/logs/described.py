"""Units from a CSV on the Web description beside the file (W3C *Metadata Vocabulary for Tabular Data*)."""

from __future__ import annotations

import json
from pathlib import Path

from syncview_codecs.errors import CodecError


def described_units(path: Path) -> dict[str, str]:
    """Units by column title or name from `FILE.csv-metadata.json`; empty where there is no such file.

    The unit is the common property `unitText`, with or without a prefix: the vocabulary has none of its own.
    """
    beside = path.with_name(path.name + "-metadata.json")
    if not beside.exists():
        return {}
    try:
        columns = json.loads(beside.read_text("utf-8"))["tableSchema"]["columns"]
        units: dict[str, str] = {}
        for column in columns:
            unit = next((str(v) for k, v in column.items() if k.split(":")[-1] == "unitText"), "")
            titles = column.get("titles", [])
            for title in [column.get("name"), *([titles] if isinstance(titles, str) else titles)]:
                if isinstance(title, str):
                    units[title] = unit
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise CodecError(
            f"the description beside the log cannot be understood ({error})",
            "Mend it as CSV on the Web metadata, or move it away.",
            name=beside.name,
        ) from error
    return units
