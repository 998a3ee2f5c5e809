"""The shape of `requests` in a study: where the table is, and which column says what."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["FIELDS", "Field_", "RequestsForm"]

FIELDS = {
    "party": "who asks",
    "link": "names of the links, parted by semicolons",
    "count": "how many links, instead of names",
    "profile": "the equipment",
    "tuning": "what part of the profile's tuning ranges is meant, such as 518-542",
    "zone": "where",
    "windows": "when, parted by semicolons; always without",
    "priority": "1 to 100",
    "wanted": "frequencies that are wanted, in the order of the links",
    "fixed": "yes: the wanted frequency is a lock",
    "spares": "how many, or a share such as 20 %",
}
"""What a column of requests may say."""

Field_ = Literal[
    "party",
    "link",
    "count",
    "profile",
    "tuning",
    "zone",
    "windows",
    "priority",
    "wanted",
    "fixed",
    "spares",
]

Default = Literal["party", "profile", "tuning", "zone", "windows", "priority", "fixed", "spares"]
Mapped = Literal["party", "profile", "zone", "windows"]
Header = Annotated[str, Field(strict=True, min_length=1, max_length=200)]


class RequestsForm(BaseModel):
    """Requests as written.

    Parameters
    ----------
    rows : list
        The rows, as `sidon.event.requests.table` reads them.
    file : str, default ""
        The file they were read from.
    columns : dict of str to str, default {}
        The header of each field; a header that is the name of a field needs none.
    defaults : dict of str to object, default {}
        What an empty cell means.
    values : dict of str to dict of str to str, default {}
        For party, profile, zone and windows what a cell says and what it means here, such as
        ``{"zone": {"Main Stage": "main"}}``; case and spacing do not count. What is not listed
        means what it says.
    ignore : list of str or "rest", default []
        Headers that say nothing about the plan.
    prefix_party : bool, default False
        Put the party in front of the names of its links, where parties use the same names.
    decimal : "." or ",", default "."
        What parts the decimals of a frequency.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    rows: Annotated[list[dict[str, Any]], Field(min_length=1)]
    file: Annotated[str, Field(strict=True)] = ""
    columns: dict[Field_, Header] = {}
    defaults: dict[Default, Any] = {}
    values: dict[Mapped, dict[Header, Header]] = {}
    ignore: list[Header] | Literal["rest"] = []
    prefix_party: Annotated[bool, Field(strict=True)] = False
    decimal: Literal[".", ","] = "."
