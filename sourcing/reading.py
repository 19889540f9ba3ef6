"""A TOML file into a pydantic model, with every mismatch as a fault that names its place."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Annotated, Any, TypeVar

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainValidator,
    StringConstraints,
    ValidationError,
)

from sourcing.faults import (
    BadInput,
    BadValue,
    BrokenToml,
    Fault,
    MissingFile,
    MissingKey,
    RefusedSheet,
    UnknownKey,
    WrongEncoding,
    raise_any,
    shown,
)

M = TypeVar("M", bound="Record")


class Record(BaseModel):
    """A table of a file: frozen, and closed to keys that the format does not have."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


def _no_truth(value: Any) -> Any:
    if isinstance(value, bool):
        raise ValueError("expected a number, not true or false")
    return value


def _rate(value: Any) -> Fraction:
    """A rate from 0 to 1, as a number or as "came back/fitted", exactly."""
    if isinstance(value, bool) or not isinstance(value, (int, str, Decimal, Fraction)):
        raise ValueError('expected a number from 0 to 1, or a share such as "3/41"')
    try:
        rate = Fraction(value)
    except (ValueError, ZeroDivisionError):
        raise ValueError('expected a number from 0 to 1, or a share such as "3/41"') from None
    if not 0 <= rate <= 1:
        raise ValueError("expected a rate from 0 to 1")
    return rate


def _day(value: Any) -> Any:
    if isinstance(value, str) and not re.fullmatch(r"\d{4}-\d{2}-\d{2}", value):
        raise ValueError("expected a date written YYYY-MM-DD")
    return value


_number = BeforeValidator(_no_truth)
Code = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80)]
Words = Annotated[str, StringConstraints(max_length=4000)]
Month = Annotated[str, StringConstraints(pattern=r"^\d{4}-(0[1-9]|1[0-2])$")]
Day = Annotated[date, BeforeValidator(_day), Field(ge=date(1900, 1, 1), le=date(2999, 12, 31))]
Count = Annotated[int, _number, Field(ge=0, le=1_000_000)]
Amount = Annotated[Decimal, _number, Field(ge=0, le=Decimal(9_999_999), allow_inf_nan=False)]
Price = Annotated[Decimal, _number, Field(ge=0, le=Decimal(99_999_999), decimal_places=2, allow_inf_nan=False)]
Share = Annotated[Decimal, _number, Field(ge=0, le=1, allow_inf_nan=False)]
Rate = Annotated[Fraction, PlainValidator(_rate)]


def read_text(path: Path) -> str:
    """A UTF-8 file's text (a byte-order mark is passed over).

    Raises BadInput where the file is missing, unreadable or not UTF-8.
    """
    try:
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise BadInput([MissingFile(file=shown(path))]) from None
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        raise BadInput(
            [WrongEncoding(file=shown(path), row=line, found=f"byte {error.object[error.start]:#04x}")]
        ) from None
    except OSError as error:
        raise BadInput([RefusedSheet(file=shown(path), expected="a readable file", found=error.strerror or "an error",
                                     remedy="Check the file and its permissions.")]) from None  # fmt: skip


def read_toml(path: Path, model: type[M], check: Callable[[M], Iterable[Fault]] = lambda _: ()) -> M:
    """Read a TOML file as `model`; numbers are decimals, never floats.

    `check` gives the faults that only the whole file shows. Raises BadInput with every fault of the file.
    """
    return toml_of(read_text(path), path, model, check)


def toml_of(text: str, path: Path, model: type[M], check: Callable[[M], Iterable[Fault]] = lambda _: ()) -> M:
    """The same for a text at hand, which need not stand in the file of that name."""
    return validated(tables_of(text, path), model, path, check)


def tables_of(text: str, path: Path) -> dict[str, Any]:
    """A TOML text as plain values. Raises BadInput where it is none; its fault names `path`."""
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        raise BadInput([BrokenToml(file=shown(path), found=str(error))]) from None
    except RecursionError:
        raise BadInput([BrokenToml(file=shown(path), found="lists nested beyond reason")]) from None


def validated(raw: dict[str, Any], model: type[M], path: Path, check: Callable[[M], Iterable[Fault]]) -> M:
    """Check plain values against `model`, then by `check`; every mismatch becomes a fault of `path`."""
    try:
        record = model.model_validate(raw)
    except ValidationError as error:
        items = error.errors()
        faults = [_fault(shown(path), raw, item) for item in items]
        if all(_spare(item) for item in items):
            for item in items:
                _take_out(raw, item["loc"])
            with suppress(ValidationError):
                faults += check(model.model_validate(raw))
        raise BadInput(faults) from None
    raise_any(list(check(record)))
    return record


def _spare(item: Any) -> bool:
    """Whether the rest of a file can be understood without a mismatch: a key that no part of the format has."""
    return bool(item["type"] == "extra_forbidden")


def _take_out(raw: Any, location: tuple[str | int, ...]) -> None:
    *way, last = location
    for step in way:
        raw = raw[step]
    del raw[last]


def _fault(file: str, raw: Any, item: Any) -> Fault:
    place = _place(raw, item["loc"])
    kind = item["type"]
    if kind == "extra_forbidden":
        return UnknownKey(file=file, place=place, found=f'"{item["loc"][-1]}"')
    if kind == "missing":
        return MissingKey(file=file, place=place)
    message = item["msg"].removeprefix("Value error, ").removeprefix("expected ")
    found = repr(item["input"]) if not isinstance(item["input"], (dict, list)) else f"a {type(item['input']).__name__}"
    message = re.sub(r"Decimal\('(.*?)'\)", r"\1", message).removeprefix("Input should be ")
    found = re.sub(r"^Decimal\('(.*)'\)$", r"\1", found)
    return BadValue(file=file, place=place, expected=message[:1].lower() + message[1:], found=found[:120])


def _place(raw: Any, location: tuple[str | int, ...]) -> str:
    """`design[3] (block-2) weight_kg`: the keys to a value, with the code or name of each table on the way."""
    words: list[str] = []
    here = raw
    for step in location:
        if isinstance(step, int):
            here = here[step] if isinstance(here, list) and step < len(here) else None
            label = here.get("code") or here.get("name") or here.get("mode") if isinstance(here, dict) else None
            words[-1:] = [f"{words[-1] if words else ''}[{step + 1}]" + (f" ({label})" if label else "")]
        else:
            words.append(step)
            here = here.get(step) if isinstance(here, dict) else None
    return " ".join(words)
