"""`syncview export`: the products of a lesson in one folder."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from syncview.cli.console import Commands, add_json, add_progress, add_project, print_json, progress_shown, warn
from syncview.cli.render import add_film_options, open_film, settings_of

if TYPE_CHECKING:
    from syncview.lesson.export import Product
    from syncview.lesson.lap_film import LapFilm


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "export",
        help="write films, captions, chapters and a clip per corner",
        description="Write products to a folder: captions of the lap (.srt, .vtt and .ttml), its chapters (an "
        "ffmetadata file, a list for a video's description, .vtt and .json), film (the lap with gauges, chapters "
        "inside), clips (one per corner), lesson (its film, with captions, chapters and plan beside it) and timeline "
        "(the lesson's cut for editing programs: .otio and .edl). Without names, all of them.",
    )
    add_project(parser)
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="where to write; made when missing")
    parser.add_argument(
        "products",
        nargs="*",
        metavar="PRODUCT",
        help="any of: captions, chapters, film, clips, lesson, timeline (default all)",
    )
    add_film_options(parser)
    parser.add_argument(
        "--copy",
        action="store_true",
        help="film and clips of the lap without gauges, notes as a caption track: copied without loss, only the edges "
        "of the clips are coded again",
    )
    parser.add_argument(
        "--check",
        action="store_true",
        help="write nothing when a note disagrees with the data (see syncview check; exit code 9)",
    )
    add_json(parser)
    add_progress(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Export."""
    from syncview.lesson.export import ExportOptions, export

    products = _products(arguments.products)
    settings = settings_of(arguments.quality, arguments.coding)
    options = ExportOptions(overwrite=arguments.overwrite, settings=settings, copy=arguments.copy)
    with progress_shown(arguments.progress) as progress:
        film = open_film(arguments, progress)
        if arguments.check:
            _refuse_disagreeing_notes(film)
        result = export(film, arguments.folder, products, options=options, progress=progress)
    for sentence in result.remarks:
        warn(sentence)
    if arguments.json:
        print_json({
            "files": [{"product": product, "path": path} for product, path in result.files],
            "remarks": list(result.remarks),
        })  # fmt: skip
    else:
        for product, path in result.files:
            print(f"{product:9} {path}")
    return 0


def _refuse_disagreeing_notes(film: LapFilm) -> None:
    """Raise `DisagreementError` when a note says what the data of this lap contradict."""
    from syncview.lesson.checking import DisagreementError, check_notes, disagreement_words

    wrong = disagreement_words(check_notes(film.session, film.lap))
    for sentence in wrong:
        warn(sentence)
    if wrong:
        count = "one claim of the notes disagrees" if len(wrong) == 1 else f"{len(wrong)} claims of the notes disagree"
        raise DisagreementError(f"{count} with lap {film.lap.number}; nothing was written",
                                "Edit the notes, or export without --check.")  # fmt: skip


def _products(names: list[str]) -> tuple[Product, ...]:
    """The products of those names, or all; raises `SyncviewError` for a name that is none."""
    from syncview.errors import SyncviewError
    from syncview.lesson.export import PRODUCTS

    unknown = [name for name in names if name not in PRODUCTS]
    if unknown:
        raise SyncviewError(f"“{unknown[0]}” is not a product", f"Products are: {', '.join(PRODUCTS)}.")
    return tuple(product for product in PRODUCTS if not names or product in names)
