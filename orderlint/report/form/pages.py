"""The local page as HTML: the form, the result beside it, and the read-back question by question.

One style sheet and one script, let in by their digests. Every value is escaped.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table
from orderlint.finding import Finding, Level
from orderlint.report import blocks as b
from orderlint.report.html import asset, csp_source, fragment, template
from orderlint.report.html import page as page_of_reports
from orderlint.report.order import blocks as of_order
from orderlint.report.order import words
from orderlint.report.order.checked import few_unchecked_words
from orderlint.report.picture.diagram import diagram_of
from orderlint.report.readback import words as readback_words
from orderlint.report.readback.blocks import blocks as readback_blocks
from orderlint.report.words import BLANK, counted
from orderlint.rulebook.rule import MISSING_FAMILY

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from orderlint.readback import ReadBack
    from orderlint.report.form.model import FormSection
    from orderlint.verification import Verified

NOT_CHECKED = "Not checked"
PATIENT = "Patient, written by hand"


class ShownResult(NamedTuple):
    """A result as markup, and its verdict in words for where there is room for no more."""

    markup: str
    verdict: str


class RestShown(NamedTuple):
    """Words that were not understood: where they stand, why, and what a person has said of them.

    `tick` is the name under which is said that the order goes without them; '' if nobody can.
    """

    where: str
    text: str
    why: str
    tick: str = ""
    is_left_out: bool = False


class OpenedShown(NamedTuple):
    """From what the form was filled, under which name that is kept, and what was not understood.

    `is_text` says that its lines are to be confirmed one by one.
    """

    key: str
    title: str
    said: Sequence[str] = ()
    rest: Sequence[RestShown] = ()
    is_text: bool = False


class TableShown(NamedTuple):
    """A table of which one row is to be picked: rows by number, each with words that tell it."""

    key: str
    name: str
    rows: Sequence[tuple[int, str]]


class FormPage(NamedTuple):
    """What stands on the page: where its forms are sent, the groups, and the result.

    `message` says why nothing was done with what was sent; '' if it was. `no_file` says why there
    is no `yaml`. `most` is how many bytes are taken at a time. `pasted` is a text that was not
    opened, `replaced` the name under which is kept what stood there before another order took its
    place. `is_opening` says that the part in which an order is opened is unfolded.
    """

    base: str
    groups: Sequence[FormSection]
    needed: str
    result: ShownResult
    yaml: str
    policy: str
    most: int
    message: str = ""
    no_file: str = ""
    pasted: str = ""
    replaced: str = ""
    is_opening: bool = True
    opened: OpenedShown | None = None
    table: TableShown | None = None


@functools.cache
def content_security_policy() -> str:
    """What the pages may load: their style sheets, their script, and answers of this server."""
    styles = f"{csp_source(asset('page.css'))} {csp_source(asset('form.css'))}"
    return (
        f"default-src 'none'; style-src {styles}; script-src {csp_source(asset('form.js'))}; "
        "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
    )


def form_page(page: FormPage) -> str:
    """The whole page."""
    return _rendered("form.html", page=page)


def show_result(verified: Verified, unread: str = "") -> ShownResult:
    """Verdict, reason, question, picture and the rest of what is to be said.

    `unread` says what was not read of the file; it stands at the verdict if anything is missing.
    """
    groups = [*words.in_order(verified.assessment.findings)]
    is_missing = any(each.family == MISSING_FAMILY for group in groups for each in group)
    note = [b.paragraph(unread, "unread")] if unread and is_missing else []
    first = fragment(
        (
            *_begun(verified),
            *of_order.opening(verified),
            *note,
            *of_order.lead(groups, of_order.finding_block),
        )
    )
    links = _rendered("to-fields.html", fields=_fields_of(groups)) if groups else ""
    return ShownResult(
        first + links + fragment(_rest(verified, groups)), words.verdict_words(verified)[0]
    )


def sheet_page(verified: Verified, digest: str, at: int) -> str:
    """The report to sign, with blanks for the patient, who is in no order and no file.

    `digest` is that of the order's bytes, `at` the instant of checking, in ms since 1970 UTC.
    """
    title = f"{words.verdict_words(verified)[0]}: {verified.file}"
    patient = b.list_section(
        PATIENT, [f"{label}: {BLANK * 8}" for label in readback_words.IDENTIFIERS]
    )
    return page_of_reports(title, [(patient, *of_order.blocks(verified, at, digest))])


def not_checked(why: str, paths: Sequence[str] = ()) -> ShownResult:
    """That nothing was checked, why, and the fields at which, in place of a result."""
    markup = _rendered("not-checked.html", title=NOT_CHECKED, why=why)
    links = _rendered("to-fields.html", fields=_named(paths)) if paths else ""
    return ShownResult(markup + links, NOT_CHECKED)


class AskedPage(NamedTuple):
    """A question of the read-back: where to stand, what is asked, why an answer is not taken.

    `answer` is one that was not taken, `choices` and `units` all that the field has.
    """

    base: str
    station: str
    question: str
    trouble: str
    number: int
    can_go_back: bool
    answer: str = ""
    choices: Sequence[str] = ()
    units: Sequence[str] = ()


class ToldPage(NamedTuple):
    """Why a tab has not what was asked for; with `go_on`, a button that sends `sent` again.

    `markup` is what stands there instead of the title, `points` where what was found is read.
    """

    title: str
    told: str
    markup: str = ""
    base: str = ""
    go_on: str = ""
    sent: Sequence[tuple[str, str]] = ()
    points: str = ""


def told_page(page: ToldPage) -> str:
    """A tab that says why nothing is done yet."""
    return _rendered("told.html", page=page)


def verdict_markup(verified: Verified) -> str:
    """The verdict alone, as markup."""
    return fragment(of_order.opening(verified))


def asked_page(page: AskedPage) -> str:
    """A question of the read-back, for a screen of a hand's width. Nothing ordered is in it."""
    return _rendered("asked.html", page=page)


def compared_page(found: ReadBack, digest: str, at: int, base: str) -> str:
    """The comparison of a read-back, with the way to its order.

    `digest` is that of the order's bytes, `at` the instant of comparing, in ms since 1970 UTC.
    """
    title = readback_words.verdict_words(found)[0]
    markup = fragment(readback_blocks(found, digest, at))
    return _rendered("compared.html", title=title, markup=markup, base=base)


def _rendered(name: str, **given: object) -> str:
    styles = (asset("page.css"), asset("form.css"))
    return template(name).render(styles=styles, script=asset("form.js"), **given) + "\n"


_LEVELS = ("pause.lower", "pause.upper", "treat_above", "drainage.height")


def _begun(verified: Verified) -> Iterator[b.Block]:
    """How much is missing yet, while no level is entered and nothing but that is wrong.

    The verdict and all that is found stand below it as ever; they are only shown more quietly.
    """
    found = verified.assessment.findings
    missing = sum(each.family == MISSING_FAMILY for each in found)
    heavy = (each for each in found if each.level is Level.DO_NOT_START)
    is_wrong = any(each.family != MISSING_FAMILY for each in heavy)
    if missing and not is_wrong and not any(verified.order.leaves[p].given for p in _LEVELS):
        said = f"{counted(missing, 'setting')} {'is' if missing == 1 else 'are'} missing yet."
        yield b.paragraph(f"{said} The verdict is that of what stands there so far.", "begun")


_MOST_LINKS = 6


def _fields_of(groups: Iterable[Sequence[Finding]]) -> list[tuple[str, str]]:
    """The fields of the heaviest findings, path and name, each once."""
    found = (each for group in groups for each in group)
    paths = (path for each in found for path in (each.path, *(also.path for also in each.also)))
    return _named(paths)[:_MOST_LINKS]


def _named(paths: Iterable[str]) -> list[tuple[str, str]]:
    fields = field_table().fields
    return [(path, fields[path].name) for path in dict.fromkeys(paths) if path in fields]


def _rest(verified: Verified, groups: Sequence[Sequence[Finding]]) -> Iterator[b.Block]:
    diagram = diagram_of(verified.behaviour, verified.order.leaves)
    yield b.WithPicture(
        b.Picture(diagram, "order", words.PICTURE) if diagram else None,
        tuple(of_order.finding_sections(groups[1:], of_order.finding_block)),
    )
    unchecked = few_unchecked_words(verified.assessment.unchecked, verified.order.leaves)
    if verified.assessment.unchecked:
        yield b.list_section(words.UNCHECKED, unchecked)
    yield of_order.CAUTION_BLOCK
