"""A shop's book as forms: eras, designs, rules, suppliers, part numbers; `sourcing review` looks at them as they are typed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from http import HTTPStatus

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from sourcing import bookfile
from sourcing.book.review import Finding
from sourcing.book.reviewwords import by_kind, holes_of, holes_words
from sourcing.faults import BadInput, ChangedSince, shown
from sourcing.letterhead import MOST_BYTES
from sourcing.newfolder import make_family
from sourcing.page.asked import Checked, Form, Shop
from sourcing.page.bookfields import FAMILY, KINDS, PART
from sourcing.page.bookplaces import Entry, Place, opened_in, opened_text, place_of
from sourcing.page.desk import Desk
from sourcing.page.drawn import page
from sourcing.page.fields import Field
from sourcing.page.fieldshown import shown_in, told_in
from sourcing.page.layoutread import sheets_read
from sourcing.page.pictures import keep_picture
from sourcing.page.reach import NotThere
from sourcing.page.shopfields import PAGES
from sourcing.page.supplierfields import LAYOUT
from sourcing.page.uploads import Sent
from sourcing.prices.suppliers import read_suppliers

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class Beside:
    """What stands beside a form: what is wrong with the file as it would be, else the holes of the book, or how sheets are read."""

    faults: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    reviewed: bool = False
    sheets: tuple[str, ...] = ()


@router.get("/book")
def book(request: Request, desk: Shop) -> Response:
    """The shop's files: itself, its suppliers, its families."""
    return _book(request, desk, [])


def _book(request: Request, desk: Desk, faults: Sequence[str], **said: str) -> Response:
    status = HTTPStatus.UNPROCESSABLE_ENTITY if faults else HTTPStatus.OK
    suppliers = read_suppliers(desk.reach.catalogs / "suppliers.toml")
    return page(request, "book.html", status, families=desk.families(), suppliers=suppliers, faults=faults, pages=PAGES,
                said={"code": "", "name": "", **said})  # fmt: skip


@router.post("/book/families")
def begin_family(request: Request, desk: Shop, form: Checked) -> Response:
    """Begin a further family's book."""
    code = form.get("code")
    try:
        make_family(desk.reach.catalogs, code, form.get("name"))
    except BadInput as error:
        return _book(request, desk, [str(fault) for fault in error.faults], code=code, name=form.get("name"))
    return RedirectResponse(f"/families/{code}/book", HTTPStatus.SEE_OTHER)


@router.get("/families/{code}/book")
def family_book(request: Request, code: str, desk: Shop) -> Response:
    """A family's book: every entry, and its holes."""
    family = desk.shelf().family(code, "family")
    places = [place_of(desk, kind, code) for kind in (*KINDS, PART.name)]
    return page(request, "familybook.html", family=family, places=places, beside=_beside(places[0], places[0].text),
                by_kind=by_kind, holes_of=holes_of, holes_words=holes_words)  # fmt: skip


# -- one kind of entry --


@router.get("/book/suppliers")
def suppliers(request: Request, desk: Shop, entry: str = "", new: bool = False, saved: bool = False) -> Response:
    """The shop's suppliers, or one of them."""
    return _kind(request, place_of(desk, "supplier"), entry, new, saved)


@router.post("/book/suppliers")
def save_supplier(request: Request, desk: Shop, form: Checked) -> Response:
    """Save a supplier."""
    return _save(request, place_of(desk, "supplier"), form)


@router.post("/book/suppliers/live")
def live_supplier(request: Request, desk: Shop, form: Checked) -> Response:
    """What is wrong with it as it is typed; part of a page."""
    return _live(request, place_of(desk, "supplier"), form)


@router.get("/book/layouts")
def layouts(request: Request, desk: Shop, entry: str = "", saved: bool = False) -> Response:
    """How the suppliers' sheets are laid out, or one's."""
    return _kind(request, place_of(desk, "layout"), entry, False, saved)


@router.post("/book/layouts")
def save_layout(request: Request, desk: Shop, form: Checked) -> Response:
    """Save how a supplier's sheets are laid out."""
    return _save(request, place_of(desk, "layout"), form)


@router.post("/book/layouts/live")
def live_layout(request: Request, desk: Shop, form: Checked) -> Response:
    """What is wrong with it as it is typed; part of a page."""
    return _live(request, place_of(desk, "layout"), form)


@router.get("/book/{which}")
def of_shop(request: Request, which: str, desk: Shop, saved: bool = False) -> Response:
    """A page of what shop.toml says: rates, mark-up, what is wanted, letterhead."""
    return _show(request, place_of(desk, _of_shop(which)), "", saved)


@router.post("/book/{which}")
def save_of_shop(request: Request, which: str, desk: Shop, form: Checked) -> Response:
    """Save it."""
    return _save(request, place_of(desk, _of_shop(which)), form)


@router.post("/book/{which}/live")
def live_of_shop(request: Request, which: str, desk: Shop, form: Checked) -> Response:
    """What is wrong with it as it is typed; part of a page."""
    return _live(request, place_of(desk, _of_shop(which)), form)


@router.post("/book/letterhead/picture")
def send_picture(request: Request, desk: Shop, form: Sent) -> Response:
    """Take a picture in for the letterhead."""
    place = place_of(desk, "letterhead")
    opened = place.standing(place.text, "")
    content = form.file.read(MOST_BYTES + 1) if form.file is not None else b""
    catalogs = desk.reach.catalogs
    new = ""
    try:
        name, is_new = keep_picture(catalogs, form.name, content)
        new = name if is_new else ""
        bookfile.save(
            catalogs, place.path, lambda text: place.changed(text, "", {"letterhead.logo": name}), place.check,
            lambda text: place.standing(text, ""), opened,
        )  # fmt: skip
    except BadInput as error:
        if new:
            (catalogs / new).unlink(missing_ok=True)
        said = [str(fault) for fault in error.faults]
        return _form(request, place, "", opened, opened or {}, Beside(), said, HTTPStatus.UNPROCESSABLE_ENTITY)
    return RedirectResponse(f"{place.home}?saved=1", HTTPStatus.SEE_OTHER)


def _of_shop(which: str) -> str:
    if which not in PAGES:
        raise NotThere(f'The shop has no page "{which}".')
    return which


@router.get("/families/{code}/book/{kind}")
def kind(
    request: Request, code: str, kind: str, desk: Shop, entry: str = "", new: bool = False, saved: bool = False
) -> Response:
    """The entries of a kind, or one of them."""
    return _kind(request, place_of(desk, _of_family(kind), code), entry, new, saved)


@router.post("/families/{code}/book/{kind}")
def save_entry(request: Request, code: str, kind: str, desk: Shop, form: Checked) -> Response:
    """Save an entry of a book."""
    return _save(request, place_of(desk, _of_family(kind), code), form)


@router.post("/families/{code}/book/{kind}/live")
def live_entry(request: Request, code: str, kind: str, desk: Shop, form: Checked) -> Response:
    """The faults and holes of the book as it is typed; part of a page."""
    return _live(request, place_of(desk, _of_family(kind), code), form)


def _of_family(kind: str) -> str:
    if kind not in KINDS and kind not in (PART.name, FAMILY.name):
        raise NotThere(f'A book has no "{kind}".')
    return kind


def _kind(request: Request, place: Place, entry: str, new: bool, saved: bool) -> Response:
    if place.kind.alone:
        return _show(request, place, "", saved)
    if not entry and (not new or place.kind.fixed):
        return page(request, "bookkind.html", place=place, note="Saved." if saved else "")
    if entry and place.standing(place.text, entry) is None:
        raise NotThere(f'There is no {place.kind.one} "{entry}".')
    return _show(request, place, entry, saved)


def _show(request: Request, place: Place, key: str, saved: bool) -> Response:
    old = place.standing(place.text, key)
    return _form(request, place, key, old, old or {}, _beside(place, place.text, key), note="Saved." if saved else "")


def _form(
    request: Request,
    place: Place,
    key: str,
    opened: Entry | None,
    values: Entry,
    beside: Beside,
    faults: Sequence[str] = (),
    status: int = HTTPStatus.OK,
    theirs: Sequence[tuple[str, str, str]] = (),
    note: str = "",
) -> Response:
    return page(
        request, "bookform.html", status, place=place, key=key, opened=opened_text(opened), faults=faults, theirs=theirs,
        values={field.key: shown_in(field, values.get(field.key)) for field in place.fields}, beside=beside, note=note,
        by_kind=by_kind, holes_of=holes_of, holes_words=holes_words,
    )  # fmt: skip


def _beside(place: Place, text: str, sheets_of: str = "") -> Beside:
    """`sheets_of`: the supplier whose sheets are read by the layout that is typed; that takes longer than a letter typed."""
    try:
        found = place.looked_at(text)
        read = sheets_read(place.desk.reach.catalogs, text, sheets_of) if sheets_of and place.kind is LAYOUT else ()
        return Beside(findings=found, reviewed=place.family is not None, sheets=read)
    except BadInput as error:
        return Beside(faults=tuple(map(str, error.faults)))


def _as_typed(place: Place, form: Form) -> tuple[str, Entry | None, Entry, Entry]:
    """What a form is about: its key, the entry as opened, what is changed of it, and the entry as it would be."""
    opened = opened_in(form.get("opened"))
    edits = place.said(form, opened)
    kept = {key: value for key, value in (opened or {}).items() if key not in edits}
    return form.get("entry"), opened, edits, kept | {key: value for key, value in edits.items() if value is not None}


def _would_be(place: Place, key: str, edits: Entry, sheets_of: str = "") -> Beside:
    try:
        return _beside(place, place.changed(place.text, key, edits), sheets_of)
    except BadInput as error:
        return Beside(faults=tuple(map(str, error.faults)))
    except StopIteration:
        return Beside(faults=("Somebody took this entry out meanwhile.",))


def _live(request: Request, place: Place, form: Form) -> Response:
    key, _, edits, _ = _as_typed(place, form)
    return page(request, "booklive.html", beside=_would_be(place, key, edits), place=place, by_kind=by_kind,
                holes_of=holes_of, holes_words=holes_words)  # fmt: skip


def _save(request: Request, place: Place, form: Form) -> Response:
    """Save an entry, take it out, or only show what it would lead to."""
    key, opened, edits, values = _as_typed(place, form)
    if not key and place.kind.fixed:
        raise NotThere(f"A {place.kind.one} is entered elsewhere.")
    if "show" in form:
        return _form(request, place, key, opened, values, _would_be(place, key, edits, key))
    taking = "take_out" in form and bool(key) and not place.kind.fixed

    def change(text: str) -> str:
        return place.without(text, key) if taking else place.changed(text, key, edits) if edits else text

    try:
        bookfile.save(
            place.desk.reach.catalogs, place.path, change, place.check, lambda text: place.standing(text, key), opened
        )
    except BadInput as error:
        if isinstance(error.faults[0], ChangedSince):
            return _told_of_the_other(request, place, key, opened, edits)
        said = [str(fault) for fault in error.faults]
        return _form(request, place, key, opened, values, Beside(), said, HTTPStatus.UNPROCESSABLE_ENTITY)
    return RedirectResponse(f"{place.home}?saved=1", HTTPStatus.SEE_OTHER)


def _told_of_the_other(request: Request, place: Place, key: str, opened: Entry | None, edits: Entry) -> Response:
    """The form on top of what somebody else saved meanwhile, which is told field by field."""
    now = place.standing(place.text, key)
    fields = {field.key: field for field in place.fields}
    changed = [name for name in {**(opened or {}), **(now or {})} if (opened or {}).get(name) != (now or {}).get(name)]
    theirs = [
        (field.label, told_in(field, (opened or {}).get(name)), told_in(field, (now or {}).get(name)))
        for name in changed
        for field in [fields.get(name, Field(name, name.replace("_", " ")))]
    ]
    merged = {**(now or {}), **{name: value for name, value in edits.items() if value is not None}}
    merged = {name: value for name, value in merged.items() if name not in edits or edits[name] is not None}
    said = [f"Somebody changed this {place.kind.one} while you had it open. Nothing of yours is saved yet; the form below "
            "stands on top of what they saved."]  # fmt: skip
    if now is None and key:
        said = [f"Somebody took this {place.kind.one} out of {shown(place.path)} meanwhile. Save it to put it back."]
        key, merged = "", {name: value for name, value in {**(opened or {}), **edits}.items() if value is not None}
    return _form(request, place, key, now, merged, Beside(), said, HTTPStatus.CONFLICT, theirs)
