"""Commands that hand over: `report` and `care-card`."""

import json
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from logger.cli.calculations import ConfigOption, JsonOption
from logger.cli.completion import trial_names
from logger.cli.printed import print_line

if TYPE_CHECKING:
    from logger.reports.blocks import Document
    from logger.settings import Settings


class _Paper(StrEnum):
    A4 = "a4"
    LETTER = "letter"


TrialArgument = Annotated[
    str, typer.Argument(metavar="TRIAL", autocompletion=trial_names, help="as it is called")
]
PaperOption = Annotated[
    _Paper | None, typer.Option(help="of a PDF; else letter where lengths are in inches, or a4")
]


def add_to(app: typer.Typer) -> None:
    """Register the commands."""
    app.command()(report)
    app.command("care-card")(care_card)


def report(
    trials: Annotated[
        list[str],
        typer.Argument(metavar="TRIAL", autocompletion=trial_names, help="several: a series"),
    ],
    output: Annotated[
        Path, typer.Option("-o", "--output", metavar="FILE.html|FILE.pdf", help="to write")
    ],
    paper: PaperOption = None,
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write the record of a trial, or of a series.

    Verdict, every burn, what is missing, whose limits: one file, to print or hand over. The same
    data give the same bytes. A file that is there is replaced.
    """
    from logger import settings
    from logger.service import trial_report
    from logger.service.trial_verdict import Judging

    _form(output)
    loaded = settings.load(settings.find(config))
    made = trial_report.report(Judging(loaded.bench.data), loaded, trials)
    _write(made, output, paper, loaded, as_json=as_json)


def care_card(
    trial: TrialArgument,
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", metavar="FILE.html|FILE.pdf", help="else to the terminal"),
    ] = None,
    paper: PaperOption = None,
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write the card for the candle's buyer.

    Burn time, trim and cool-down as the verdict found them; only of a trial that passed. What a
    label must say is a matter of local law.
    """
    from logger import settings
    from logger.reports.care_card import care_lines
    from logger.service import trial_report
    from logger.service.trial_verdict import Judging

    if output is not None:
        _form(output)
    loaded = settings.load(settings.find(config))
    made = trial_report.card(Judging(loaded.bench.data), loaded, trial)
    if output is not None:
        _write(made, output, paper, loaded, as_json=as_json)
    elif as_json:
        print(json.dumps({"trial": trial, "lines": [*care_lines(made)]}))
    else:
        for line in care_lines(made):
            print_line(line)


def _form(path: Path) -> str:
    from logger.errors import UsageError
    from logger.reports.document_files import FileForm

    ending = path.suffix.lower().removeprefix(".")
    if ending not in list(FileForm):
        raise UsageError(f"-o {path}: the name must end with .html or .pdf")
    return ending


def _write(
    made: "Document", path: Path, paper: _Paper | None, loaded: "Settings", *, as_json: bool
) -> None:
    from logger.reports.document_files import FileForm, document_file, usual_paper
    from logger.reports.document_pdf import PaperSize
    from logger.reports.write import write

    sizes = {_Paper.A4: PaperSize.A4, _Paper.LETTER: PaperSize.LETTER}
    size = usual_paper(loaded.words) if paper is None else sizes[paper]
    content = document_file(made, FileForm(_form(path)), size)
    write(path, content)
    if as_json:
        print(json.dumps({"file": str(path), "bytes": len(content), "checksum": made.checksum}))
    else:
        print_line(str(path))
