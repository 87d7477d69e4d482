"""The result of every verb: the verdict, the findings, and the report in each format.

One class; renderers.py has what differs by verb. Never a word of a report.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, Protocol, TypeVar

from orderlint.api.renderers import Renderer, renderer_of

if TYPE_CHECKING:
    from orderlint.api.sources import Content
    from orderlint.assessment import Assessment
    from orderlint.finding import Finding, NotChecked, Unchecked, Verdict


class HasUncheckedTexts(Protocol):
    """What every verb finds has: the free texts that are not checked."""

    @property
    def not_checked(self) -> tuple[NotChecked, ...]:
        """In the order of the fields of an order."""


T = TypeVar("T", bound=HasUncheckedTexts)
_ALONE = {"color": False, "width": 80, "known": [()], "unread": ()}
"""What a renderer takes of a document on its own: no other was refused, nothing was known of it."""


@dataclass(frozen=True, slots=True, repr=False)
class Result(Generic[T]):
    """What a verb says of one document, or of two that it compares.

    `verdict` equals its word in the JSON report, such as "do-not-start". `assessment` has the
    findings and what could not be checked. `found` has all else that the verb works out, such as an
    order's behaviour. `contents` are the documents as they were read; `at` is the instant of
    checking in milliseconds since 1970 UTC.
    """

    verb: str
    verdict: Verdict
    assessment: Assessment
    found: T
    contents: tuple[Content, ...]
    at: int

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What to put right or to ask about, the heaviest first."""
        return self.assessment.findings

    @property
    def unchecked(self) -> tuple[Unchecked, ...]:
        """The rules that could not be judged, and for lack of which settings."""
        return self.assessment.unchecked

    @property
    def not_checked(self) -> tuple[NotChecked, ...]:
        """The free texts that are not understood whole, or say something else."""
        return self.found.not_checked

    def to_dict(self) -> dict[str, Any]:
        """The members that the command line's JSON report has of this: an element of `documents`
        or, of a verb that reports on one order alone, the whole report. A new dict each time."""
        import json  # noqa: PLC0415 - text and pages do without

        report: dict[str, Any] = json.loads(self.render("json"))
        documents = report.get("documents")
        return documents[0] if documents else report

    def to_text(self, width: int = 80, *, color: bool = False, detail: bool = False) -> str:
        """The command line's text, `width` columns wide; with `color`, coloured for a terminal.

        With `detail`, the text has all that the command line shows with --detail.
        """
        return self.render("text", width=width, color=color, detail=detail)

    def to_html(self) -> str:
        """A whole page, with its pictures and style and without scripts, that requests nothing."""
        return self.render("html")

    def render(self, form: str, **given: object) -> str:
        """The report in a format of the verb, such as `ics` of a plan.

        `given` is what else the renderer takes. Raises KeyError for another format.
        """
        renderer = renderer_of(self.verb, form, detail=bool(given.get("detail")))
        found = [self.found] if renderer.several else self.found
        text: str = renderer(found, {**_ALONE, "at": self.at, **self._digests(renderer), **given})
        return text

    def _digests(self, renderer: Renderer) -> dict[str, object]:
        """The digests of what was read, in the form that the renderer takes."""
        if "digest" not in renderer.takes:
            return {}
        digests = tuple(content.digest for content in self.contents)
        by_name = {content.name: content.digest for content in self.contents}
        return {"digest": digests[0], "digests": by_name if renderer.several else digests}

    def _repr_html_(self) -> str:
        """The page in a frame, as a notebook shows it, so that its style stays its own."""
        from html import escape  # noqa: PLC0415 - only a notebook

        frame = 'sandbox="" style="width: 100%; height: 40em; border: 0"'
        return f'<iframe {frame} srcdoc="{escape(self.to_html())}"></iframe>'

    def __repr__(self) -> str:
        names = " and ".join(content.name for content in self.contents)
        count = len(self.findings)
        said = f"{count} finding{'' if count == 1 else 's'}"
        return f"<Result of {self.verb}, {names}: {self.verdict.value}, {said}>"
