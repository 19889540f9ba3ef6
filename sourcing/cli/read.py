"""`sourcing read`: what price sheets would be read as; nothing is changed."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import typer

from sourcing.cli.asking import command_line, typed_answers
from sourcing.cli.ending import Exit
from sourcing.cli.sheets import sheet_record, told_asides, told_faults, told_question, told_tables
from sourcing.faults import BadInput, MissingFile, UnknownName, shown
from sourcing.folder import Folder
from sourcing.prices.answers import Answers
from sourcing.prices.asking import asked
from sourcing.prices.cache import Cache
from sourcing.prices.export import rows_as_csv
from sourcing.prices.layout import Layout
from sourcing.prices.rows import PriceSheet
from sourcing.prices.sheet import read_sheet, read_sheets
from sourcing.prices.sheetwords import bought_words, in_words, kind_words


def read_all(
    paths: Sequence[Path],
    catalogs: Path,
    supplier: str | None,
    answers: Answers,
    rows: Path | None,
    as_json: bool,
    most: int,
) -> Exit:
    """Say what each file would be read as; the exit code of the worst."""
    folder = _folder(catalogs, paths, supplier)
    codes = [_whose(path, folder, supplier) for path in paths]
    layouts = [_layout(folder, code) for code in codes]
    sheets = read_sheets([(path, answers.over(layout)) for path, layout in zip(paths, layouts, strict=True)], Cache())
    for path, code, layout, sheet in zip(paths, codes, layouts, sheets, strict=True):

        def freely(path: Path = path, layout: Layout = layout) -> PriceSheet:
            return read_sheet(path, answers.over(replace(layout, columns={})), Cache())

        if as_json:
            typer.echo(json.dumps(sheet_record(sheet), ensure_ascii=False))
        else:
            command = command_line(
                ["read", str(path), *(["--supplier", supplier] if supplier else []), *typed_answers(answers)]
            )
            typer.echo("\n".join(_told(path, code, layout, sheet, command, folder, most, freely)) + "\n")
    if rows is not None:
        rows.write_text(rows_as_csv(sheets), encoding="utf-8", newline="")
        if not as_json:
            typer.echo(f"Rows: {shown(rows)} ({sum(len(sheet.stood or sheet.rows) for sheet in sheets)})")
    return _exit_code(sheets)


def _typed(supplier: str | None, catalogs: Path) -> list[str]:
    words = ["--supplier", supplier] if supplier else []
    return [*words, "--catalogs", str(catalogs)] if catalogs != Path("catalogs") else words


def _exit_code(sheets: Sequence[PriceSheet]) -> Exit:
    if any(isinstance(fault, MissingFile) for sheet in sheets for fault in sheet.faults):
        return Exit.BAD_INPUT
    return Exit.SHEET_UNSURE if any(sheet.status != "read" for sheet in sheets) else Exit.PROVEN


def _folder(catalogs: Path, paths: Sequence[Path], supplier: str | None) -> Folder | None:
    """The shop's folder, where a supplier is named or a file lies in its record; a sheet can be read without one."""
    record = (catalogs / "price-sheets").resolve()
    if supplier is None and not any(path.resolve().parent.parent == record for path in paths):
        return None
    folder = Folder(catalogs, Cache())
    if supplier is not None and supplier not in folder.suppliers:
        known = ", ".join(sorted(folder.suppliers)) or "none"
        raise BadInput([UnknownName(file=shown(catalogs / "suppliers.toml"), place="--supplier", found=f'"{supplier}"',
                                    expected=f"a supplier of this file: {known}",
                                    remedy="Correct the code, or add a [[supplier]] with it.")])  # fmt: skip
    return folder


def _whose(path: Path, folder: Folder | None, supplier: str | None) -> str:
    """Whose sheet it is: as said, or by the folder of the record in which it lies; '' where nobody knows."""
    if folder is None:
        return ""
    if supplier is not None:
        return supplier
    home = path.resolve().parent
    filed = home.parent == (folder.path / "price-sheets").resolve() and home.name in folder.suppliers
    return home.name if filed else ""


def _layout(folder: Folder | None, code: str) -> Layout:
    return folder.suppliers[code].layout(folder.shop.currency) if folder and code else Layout()


def _told(
    path: Path,
    code: str,
    layout: Layout,
    sheet: PriceSheet,
    command: str,
    folder: Folder | None,
    most: int,
    freely: Callable[[], PriceSheet],
) -> Iterator[str]:
    yield sheet.file
    yield "=" * len(sheet.file)
    kind = kind_words(path)
    if kind and folder and code:
        kind += f", read as the sheets of {folder.suppliers[code].name} are laid out (suppliers.toml)"
    if kind:
        yield kind[:1].upper() + kind[1:]
    if sheet.status == "refused":
        yield from ("REFUSED: " + in_words(fault) for fault in sheet.faults)
        return
    yield from told_tables(sheet, layout.currency)
    yield from told_asides(sheet)
    yield from told_faults(sheet, most)
    question = asked(sheet, layout.columns, freely)
    if question is not None:
        yield from told_question(question, command)
    else:
        yield from _told_next(path, code, sheet, command)


def _told_next(path: Path, code: str, sheet: PriceSheet, command: str) -> Iterator[str]:
    yield ""
    yield f"READ: {bought_words(sheet)}"
    if sheet.rows and path.resolve().parent.name != code:
        receive = command.replace("sourcing read", "sourcing receive", 1)
        yield "If that is right, file it with"
        yield f"  {receive}{'' if '--supplier' in receive else ' --supplier CODE'} --date YYYY-MM-DD"
        yield "  (the date is the day from which its prices hold)"
