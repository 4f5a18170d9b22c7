"""``scaleup compare``."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from scaleup import __version__
from scaleup.cli.options import (
    AsGiven,
    AsJson,
    Asked,
    Confidence,
    CsvFile,
    Draws,
    OtherTooling,
    Replace,
    Seed,
    asked,
    press_ids,
    progress,
    whole_number,
)
from scaleup.cli.output import Output, give_out
from scaleup.cli.units_option import Units, units_asked
from scaleup.errors import Fault, InputError

if TYPE_CHECKING:
    from scaleup.answers.many import Work

MOST_WORKERS = 256


def compare(  # noqa: PLR0913, PLR0917  a command has as many arguments as options
    studies: Annotated[
        list[Path],
        typer.Argument(help="Folders of studies, or their study.toml.", metavar="STUDY..."),
    ],
    to: Annotated[
        list[str] | None,
        typer.Option(
            "--to",
            help="A production press; again for each. All that take the tooling if absent.",
            autocompletion=press_ids,
        ),
    ] = None,
    tooling: OtherTooling = None,
    confidence: Confidence = None,
    draws: Draws = 2000,
    seed: Seed = 1,
    as_given: AsGiven = False,
    units: Units = None,
    json: AsJson = False,
    csv: CsvFile = None,
    force: Replace = False,
    workers: Annotated[
        int | None, typer.Option(help="Processes that share many studies, one core each.")
    ] = None,
    scheduler: Annotated[
        str | None,
        typer.Option(
            help="Address of a running dask cluster that shares them instead; its workers need "
            "scaleup and OPENBLAS_NUM_THREADS=1."
        ),
    ] = None,
) -> None:
    """Rank production presses by the output at which they keep every limit.

    Example: scaleup compare examples/marram --to rotary-mid-19

    Many studies: scaleup compare examples/marram examples/dunlin --workers 2 --csv many.csv

    The table of many studies grows as they are done. After an interruption the same command goes
    on: only studies that are not in the table, were at fault or have changed are done.
    """
    common = asked(confidence, draws, seed)
    wanted = Output(json, csv, force, units_asked(units, studies[0]))
    if len(studies) == 1 and workers is None and scheduler is None:
        _one(studies[0], to or [], tooling, common, wanted, as_given=as_given)
        return
    from scaleup.answers.many import work_of  # noqa: PLC0415  quick --help

    if workers is not None and scheduler is not None:
        raise InputError(Fault("", "--workers", "both --workers and --scheduler", "one of the two"))
    shared = whole_number("--workers", 1 if workers is None else workers, 1, MOST_WORKERS)
    work = work_of(
        tuple(dict.fromkeys(studies)), to or [], tooling=tooling, confidence=common.confidence,
        draws=draws, seed=seed, as_given=as_given,
    )  # fmt: skip
    _many(work, wanted, _options(work[0]), shared, scheduler)


def _one(
    path: Path,
    to: list[str],
    tooling: str | None,
    common: Asked,
    wanted: Output,
    *,
    as_given: bool,
) -> None:
    from scaleup.answers.comparison import candidate_presses  # noqa: PLC0415
    from scaleup.io.study import read_study  # noqa: PLC0415  quick --help
    from scaleup.show.comparison import comparison_form, comparison_frame, show_comparison  # noqa: PLC0415

    read = read_study(path, None, tooling).confirmed(as_given)
    presses = candidate_presses(read, to)
    with progress("fitting and solving", len(presses)) as advance:
        comparison = common.analysis(read).compare(presses, advance=advance)
    give_out(comparison, wanted, show_comparison, comparison_form, comparison_frame)


def _many(
    work: list[Work], wanted: Output, options: str, workers: int, scheduler: str | None
) -> None:
    """Compare many studies, each row written as it comes, and give all of them out in order."""
    from scaleup.answers.many import as_they_come  # noqa: PLC0415
    from scaleup.cli.many_file import ManyFile  # noqa: PLC0415
    from scaleup.cli.workers import at_work  # noqa: PLC0415
    from scaleup.show.many import many_form, show_many  # noqa: PLC0415

    file = None if wanted.csv is None else ManyFile(wanted.csv, options, work, wanted.force)
    rows = [] if file is None else list(file.kept)
    done = set() if file is None else file.done
    left = [each for each in work if str(each.name) not in done]
    with (
        file.adding() if file else nullcontext(lambda _: None) as add,
        at_work(min(workers, max(len(left), 1)), scheduler) as executor,
        progress("comparing", len(work), len(done)) as advance,
    ):
        for fresh in as_they_come(left, executor):
            add(fresh)
            rows += fresh
            advance()
    place = {str(each.name): number for number, each in enumerate(work)}
    rows.sort(key=lambda row: place[str(row.study)])
    give_out(tuple(rows), replace(wanted, csv=None), show_many, many_form)
    if not any(row.inputs for row in rows):
        raise InputError(Fault("", "", "no study without a fault", "at least one that can be read"))


def _options(work: Work) -> str:
    """Return in words with which options studies are compared."""
    share = work.confidence
    return "; ".join(
        [
            f"version {__version__}",
            f"presses {', '.join(map(str, work.presses)) or 'all that take the tooling'}",
            f"tooling {work.tooling or 'of each study'}",
            f"confidence {'of each study' if share is None else f'{share:g}'}",
            f"draws {work.draws}",
            f"seed {work.seed}",
            f"as given {'yes' if work.as_given else 'no'}",
        ]
    )
