"""What a study says of itself as a document: whom it is of, what was agreed, seen and surveyed, and its state."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from pydantic import Field

from overbank.study.reading.plain import Text
from overbank.study.reading.table import Table


class Document(Table):
    """What a reviewer asks of the study as a document. Nothing is worked out from it; it is printed as it stands."""

    author: Text | None = Field(None, description="who made the study")
    checker: Text | None = Field(None, description="who checked it")
    revision: Text | None = Field(None, description="the revision of the study")
    date: Text | None = Field(None, description="the date of the revision, in quotation marks")
    scope_agreed: Text | None = Field(None, description="with whom scope and floods were agreed, and when")
    site_visit: Text | None = Field(None, description="when the site was visited, and what was seen")
    survey: Text | None = Field(None, description="when the levels were surveyed, by what, and what has changed since")
    datum: Text | None = Field(None, description="the datum of all levels")
    climate_allowance: Text | None = Field(
        None, description="which climate allowance the flow holds and where it comes from, or that it holds none"
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "author": "not stated; shown to the reviewer as a gap",
        "checker": "not stated; shown to the reviewer as a gap",
        "revision": "not stated; shown to the reviewer as a gap",
        "date": "not stated; shown to the reviewer as a gap",
        "scope_agreed": "not stated; shown to the reviewer as a gap",
        "site_visit": "not stated; shown to the reviewer as a gap",
        "survey": "not stated; shown to the reviewer as a gap",
        "datum": "not stated; shown to the reviewer as a gap",
        "climate_allowance": "not stated; shown to the reviewer as a gap",
    }
