"""What is to be exported, and the commands that do it: one process for each slow product, one for the quick ones.

So a process that dies takes no finished product with it, and going on begins with the product that is missing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

QUICK = ("captions", "chapters", "timeline")
SHARES = {"captions": 0.5, "chapters": 0.5, "timeline": 0.5, "film": 40.0, "clips": 60.0, "lesson": 120.0}
"""How long each product takes against the others, as `syncview.lesson.export` counts them."""
IN_ORDER = tuple(SHARES)


@dataclass(frozen=True, slots=True)
class Order:
    """One export."""

    project: Path
    folder: Path
    products: tuple[str, ...]
    quality: str = "web"
    coding: str = "h264"
    copy: bool = False
    before_s: float = 3.0
    after_s: float = 3.0
    overwrite: bool = False


@dataclass(frozen=True, slots=True)
class Run:
    """One process of it."""

    products: tuple[str, ...]

    @property
    def share(self) -> float:
        """How long it takes, in the units of `SHARES`."""
        return sum(SHARES[product] for product in self.products)


def runs_of(products: tuple[str, ...]) -> tuple[Run, ...]:
    """The processes, the quickest first."""
    quick = tuple(product for product in IN_ORDER if product in products and product in QUICK)
    slow = tuple(Run((product,)) for product in IN_ORDER if product in products and product not in QUICK)
    return ((Run(quick),) if quick else ()) + slow


def words_of(order: Order, run: Run) -> list[str]:
    """The command of a run, without the program's own name."""
    words = ["export", str(order.project), str(order.folder), *run.products]
    words += ["--quality", order.quality, "--coding", order.coding]
    words += ["--before", f"{order.before_s:g}", "--after", f"{order.after_s:g}"]
    if order.copy and set(run.products) & {"film", "clips"}:
        words.append("--copy")
    if order.overwrite:
        words.append("--overwrite")
    return [*words, "--json", "--progress", "json"]


def to_go_on(order: Order) -> Order:
    """The same for a run that was broken off: what it wrote before may be replaced, nothing else is there."""
    return replace(order, overwrite=True)
