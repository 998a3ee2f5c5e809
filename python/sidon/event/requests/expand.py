"""From rows of requests to the demand of a study, with every fault at its row and column."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from sidon._faults import nearest, schema_faults
from sidon._schema import shown
from sidon.event.requests import cells
from sidon.event.requests.cells import CellError
from sidon.event.requests.form import FIELDS, RequestsForm
from sidon.event.requests.narrow import Narrowed
from sidon.event.requests.places import Places
from sidon.event.requests.table import BEYOND, Row, table_rows
from sidon.exceptions import Fault
from sidon.units import mhz_text

__all__ = ["expand"]

_MOST_LINKS = 100_000


def expand(study: object, written: object = None) -> tuple[object, Places, list[Fault]]:
    """Turn the requests of a study into demand. O(rows).

    Parameters
    ----------
    study : mapping
        A study, files read; it is not changed. Without ``requests`` it is handed back.
    written : mapping, optional
        The same before its files were read: when the file of requests could not be read, that
        is told already, and that nothing is asked for need not be.

    Returns
    -------
    study : mapping
        Without ``requests``, their rows appended to ``demand``; narrowed profiles appended to
        ``profiles``, and wanted frequencies that are fixed added to ``locks``.
    places : Places
        The way back to rows and columns.
    faults : list of Fault
        Every cell that cannot be read.
    """
    if not isinstance(study, Mapping) or "requests" not in study:
        lost = isinstance(written, Mapping) and "requests" in written
        return study, Places(told={"demand"} if lost else set()), []
    rest = {key: value for key, value in study.items() if key != "requests"}
    rest.setdefault("demand", [])
    form, rows, faults = _form(study["requests"])
    if form is None:
        # What is lost must not be complained of twice.
        if not rest["demand"]:
            rest.pop("demand")
        return rest, Places(told={"demand"}), faults
    if not isinstance(rest["demand"], list) or not isinstance(rest.get("locks", {}), Mapping):
        return rest, Places(), faults
    return _Reading(rest, form, rows, faults).done()


def _form(written: object) -> tuple[RequestsForm | None, list[Row], list[Fault]]:
    """Read what stands beside the rows, and the rows whatever kind of table they are."""
    options = dict(written) if isinstance(written, Mapping) else {"rows": written}
    name = options.get("file")
    if "rows" not in options and isinstance(name, str):
        what = f"the file {name!r} was not read"
        return None, [], [Fault("requests", what, "open the study from its file, or give rows")]
    place = name if isinstance(name, str) else "requests"
    faults: list[Fault] = []
    if "rows" in options:
        options["rows"], faults = table_rows(options["rows"], place)
        if faults:
            return None, [], faults
        if not options["rows"] and isinstance(name, str):
            what = "it has no row below its headers"
            return None, [], [Fault(name, what, "fill in a row, or drop requests")]
    try:
        form = RequestsForm.model_validate(options)
    except ValidationError as error:
        return (
            None,
            [],
            [
                Fault(f"requests.{f.place}".removesuffix(".the file"), f.what, f.remedy)
                for f in schema_faults(error, RequestsForm)
            ],
        )
    return form, form.rows, []


class _Reading:
    """The reading of one table."""

    def __init__(
        self, study: dict[str, Any], form: RequestsForm, rows: list[Row], faults: list[Fault]
    ) -> None:
        self._study = study
        self._form = form
        self._rows = rows
        self._faults = faults
        self._demand = list(study["demand"])
        self._locks = dict(study.get("locks", {}))
        self._stems = {
            row["id"] for row in self._demand if isinstance(row, Mapping) and "id" in row
        }
        self._numbers: dict[str, int] = {}
        self._links = 0
        self._windows = _names(study.get("windows"))
        self._values = self._read_values()
        self._headers = self._read_headers()
        self._places = Places(headers=self._headers)
        self._narrowed = Narrowed(study.get("profiles"))

    def done(self) -> tuple[object, Places, list[Fault]]:
        # Below the headers of a table on paper the first row is the second.
        first = 1 if self._form.file.lower().endswith(".json") or not self._form.file else 2
        label = self._form.file or "requests"
        for index, row in enumerate(self._rows):
            if not all(cells.is_empty(value) for value in row.values()):
                self._row(row, f"{label}, row {index + first}")
        if not self._places.rows and "demand" not in self._places.told:
            self._fault(label, "no row asks for anything", "fill in a row, or drop requests")
            self._places.told.add("demand")
        study = {**self._study, "demand": self._demand}
        if self._locks:
            study["locks"] = self._locks
        if self._narrowed.profiles:
            start = len(study["profiles"])
            study["profiles"] = [*study["profiles"], *self._narrowed.profiles]
            for offset, row_label in enumerate(self._narrowed.rows):
                self._places.rows["profiles", start + offset] = row_label
        return study, self._places, self._faults

    def _fault(self, place: str, what: str, remedy: str) -> None:
        self._faults.append(Fault(place, what, remedy))
        self._places.told.add(place)

    def _read_headers(self) -> dict[str, str]:
        """Find the header of each field that has one; complain of every header nobody reads."""
        there = list(dict.fromkeys(h for row in self._rows for h in row if h != BEYOND))
        label = self._form.file or "requests"
        found: dict[str, str] = {}
        for name, header in self._form.columns.items():
            if header in there:
                found[name] = header
            else:
                what = f"there is no column {header!r}"
                self._faults.append(Fault(f"requests.columns.{name}", what, nearest(header, there)))
        for field in FIELDS:
            same = [h for h in there if h.lower() == field and h not in found.values()]
            if field not in self._form.columns and same:
                found[field] = same[0]
        ignored = there if self._form.ignore == "rest" else self._form.ignore
        for header in there:
            if header not in found.values() and header not in ignored:
                what = f"nobody reads the column {header!r}"
                remedy = f"map it under columns ({', '.join(FIELDS)}), or list it under ignore"
                where = f"{label}, row 1" if self._form.file.endswith(".csv") else label
                self._faults.append(Fault(where, what, remedy))
        return found

    def _read_values(self) -> dict[str, dict[str, str]]:
        """Make ready what cells mean; complain of texts that would mean two things."""
        found: dict[str, dict[str, str]] = {}
        for name, table in self._form.values.items():
            known = found.setdefault(name, {})
            for text, meaning in table.items():
                other = known.setdefault(cells.plain(text), meaning)
                if other != meaning:
                    what = f"{shown(text)} would mean both {other!r} and {meaning!r}"
                    remedy = "case and spacing do not count; keep one of the two"
                    self._faults.append(Fault(f"requests.values.{name}", what, remedy))
        return found

    def _text(self, name: str) -> Callable[[Any], str]:
        """Read text as what it means here."""
        values = self._values.get(name, {})

        def read(value: object) -> str:
            text = cells.as_text(value)
            return values.get(cells.plain(text), text)

        return read

    def _row(self, row: Row, place: str) -> None:
        if BEYOND in row:
            # Its cells stand under the wrong headers: more would be told than is wrong.
            what = f"{shown(row[BEYOND])} stands beyond the last header"
            remedy = "put a cell that holds the sign between cells in quotes, or add the header"
            self._fault(place, what, remedy)
            self._places.told.add("demand")
            return

        def read(name: str, reader: Callable[[Any], Any]) -> Any:  # noqa: ANN401
            value = row.get(self._headers.get(name, ""))
            where = self._places.cell(place, name)
            if cells.is_empty(value):
                value, where = self._form.defaults.get(name), f"requests.defaults.{name}"  # type: ignore[call-overload]
                if cells.is_empty(value):
                    return None
            try:
                return reader(value)
            except CellError as error:
                if where not in self._places.told:
                    self._fault(where, error.what, error.remedy)
                self._places.told.add(self._places.cell(place, name))
                return None

        decimal, meaning = self._form.decimal, self._values.get("windows", {})
        entry: dict[str, Any] = {
            **{name: read(name, self._text(name)) for name in ("party", "profile", "zone")},
            "windows": read("windows", lambda v: cells.as_windows(v, self._windows, meaning)),
            "priority": read("priority", lambda v: cells.as_count(v, "a priority")),
            "spares": read("spares", cells.as_spares),
        }
        entry = {key: value for key, value in entry.items() if value is not None}
        for name in ("profile", "zone"):
            where = self._places.cell(place, name)
            if name not in entry and where not in self._places.told:
                self._fault(where, f"no {name} is given", "write one, or put it under defaults")
        names = read("link", cells.as_names) or []
        count = read("count", lambda v: cells.as_count(v, "a number of links"))
        tuning = read("tuning", lambda v: cells.as_ranges(v, decimal))
        wanted = read("wanted", lambda v: cells.as_frequencies(v, decimal)) or []
        fixed = bool(read("fixed", cells.as_flag))
        self._name(entry, names, count, place)
        if tuning and "profile" in entry:
            try:
                entry["profile"] = self._narrowed.name(entry["profile"], tuning, place)
            except CellError as error:
                self._fault(self._places.cell(place, "tuning"), error.what, error.remedy)
        self._wish(entry, wanted, place, fixed=fixed)
        self._places.rows["demand", len(self._demand)] = place
        self._demand.append(entry)

    def _name(self, entry: dict[str, Any], names: list[str], count: int | None, place: str) -> None:
        """Name the links: as written, numbered, or after the party and its equipment."""
        party = entry.get("party", "")
        where = self._places.cell(place, "count")
        if count is not None and not 1 <= count <= 10_000:
            self._fault(where, f"{count:,} links cannot be asked for", "write 1 to 10,000")
            count = None
        if self._links + (count or 1) > _MOST_LINKS:
            what = f"the rows ask for more than {_MOST_LINKS:,} links"
            self._fault(where, what, "plan parts of the event apart, or check the counts")
            count = None
        self._links += count or len(names)
        if len(names) > 1 and count is not None and count != len(names):
            what = f"{len(names)} names are written for {count} links"
            self._fault(where, what, "write as many names, or leave the count out")
        if self._form.prefix_party and party:
            names = [f"{party} {name}" for name in names]
        stem = names[0] if names else " ".join(p for p in (party, entry.get("profile", "")) if p)
        if not stem:
            self._fault(self._places.cell(place, "link"), "the row names no links", "name them")
            stem = place
        if not names or (len(names) == 1 and (count or 1) > 1):
            # Rows of one party and profile count on, so that no two links are named alike.
            start = self._numbers.get(stem, 0)
            self._numbers[stem] = start + (count or 1)
            names = [f"{stem}-{start + n}" for n in range(1, (count or 1) + 1)]
        entry["ids"], entry["id"] = names, self._free_stem(stem)

    def _free_stem(self, stem: str) -> str:
        """Find a name for the spares of a row that no other row has."""
        found, number = stem, 1
        while found in self._stems:
            number += 1
            found = f"{stem} {number}"
        self._stems.add(found)
        return found

    def _wish(
        self, entry: dict[str, Any], wanted: Sequence[int], place: str, *, fixed: bool
    ) -> None:
        where, names = self._places.cell(place, "wanted"), entry["ids"]
        if len(wanted) > len(names):
            what = f"{len(wanted)} frequencies are wanted for {len(names)} links"
            self._fault(where, what, "write one for each link at most")
            wanted = []
        if fixed and not wanted and where not in self._places.told:
            what = "the frequency is fixed, but none is wanted"
            self._fault(self._places.cell(place, "fixed"), what, "write it, or write no")
        if not wanted:
            return
        entry["wanted"] = [f"{mhz_text(hz)} MHz" for hz in wanted]
        for link, hz in zip(names, wanted, strict=False):
            if fixed and link in self._locks:
                what = f"the link {shown(link)} is locked already"
                self._fault(where, what, "keep one of the two")
            elif fixed:
                self._locks[link] = f"{mhz_text(hz)} MHz"
                self._places.locks[link] = where


def _names(section: object) -> list[str]:
    if not isinstance(section, list):
        return []
    names = [entry.get("name") for entry in section if isinstance(entry, Mapping)]
    return [name for name in names if isinstance(name, str)]
