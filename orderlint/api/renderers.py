"""The function that renders each verb in each format, imported when it is used.

Only which function, and what it is given. Never a word of a report.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping


class Renderer(NamedTuple):
    """A function of orderlint.report, as module:name. If it returns blocks, they become text.

    It is given what a verb found, or a list of that if it reports on `several`, and by name what
    `takes` names. With a `title`, a function of the same module, the blocks become a page.
    """

    function: str
    takes: str = ""
    several: bool = False
    title: str = ""

    def __call__(self, found: object, given: Mapping[str, Any]) -> Any:
        """Render `found`. `given` has what the function takes and, for blocks, color and width."""
        path, _, name = self.function.partition(":")
        module = importlib.import_module(f"orderlint.report.{path}")
        made = getattr(module, name)(found, **{name: given[name] for name in self.takes.split()})
        if self.title:
            from orderlint.report.html import page  # noqa: PLC0415 - text and JSON do without

            return page(getattr(module, self.title)(found), [made])
        if not name.endswith("blocks"):
            return made
        from orderlint.report.text import render_blocks  # noqa: PLC0415 - pages and JSON do without

        return render_blocks(made, width=given["width"], color=given["color"])


RENDERERS: Mapping[tuple[str, str], Renderer] = {
    ("ask", "text"): Renderer("ask:blocks"),
    ("ask", "json"): Renderer("ask:render", "at"),
    ("ask", "html"): Renderer("ask:blocks", "digest", title="addressed"),
    ("audit", "text"): Renderer("audit.blocks:blocks", "rules written"),
    ("audit", "brief"): Renderer("audit.blocks:brief_blocks", "rules written"),
    ("audit", "json"): Renderer("audit.json:render", "rules"),
    ("audit", "html"): Renderer("audit.blocks:blocks", "rules written", title="title"),
    ("compare orders", "text"): Renderer("compare.blocks:blocks", "at"),
    ("compare orders", "json"): Renderer("compare.json:render_orders", "at"),
    ("compare orders", "html"): Renderer("compare.blocks:blocks", "digests at", title="title"),
    ("compare orders", "markdown"): Renderer("compare.markdown:of_orders", "at"),
    ("compare orders", "results"): Renderer("compare.ci_results:of_orders", "at"),
    ("compare sets", "text"): Renderer("compare.blocks:set_blocks", "at"),
    ("compare sets", "json"): Renderer("compare.json:render_sets", "at"),
    ("compare sets", "html"): Renderer(
        "compare.blocks:set_blocks", "digests at", title="set_title"
    ),
    ("compare sets", "markdown"): Renderer("compare.markdown:of_sets", "at"),
    ("compare sets", "results"): Renderer("compare.ci_results:of_sets", "at"),
    ("convert", "order"): Renderer("convert:order_text"),
    ("convert", "text"): Renderer("convert:blocks"),
    ("draft", "draft"): Renderer("draft:draft_text"),
    ("draft", "order"): Renderer("draft:order_text"),
    ("new", "order"): Renderer("blank_documents:new_order"),
    ("new", "order-set"): Renderer("blank_documents:new_order_set"),
    ("new", "site-policy"): Renderer("blank_documents:new_site_policy"),
    ("plan", "text"): Renderer("plan.blocks:blocks", "at"),
    ("plan", "brief"): Renderer("plan.blocks:brief_blocks", "at"),
    ("plan", "json"): Renderer("plan.json:render", "at"),
    ("plan", "html"): Renderer("plan.blocks:blocks", "digest at", title="title"),
    ("plan", "ics"): Renderer("plan.calendar:render", "at"),
    ("read back", "text"): Renderer("readback.blocks:blocks", "digest at"),
    ("read back", "json"): Renderer("readback.json:render", "digest at"),
    ("read back", "html"): Renderer("readback.blocks:blocks", "digest at", title="title"),
    ("review", "text"): Renderer("review.blocks:blocks", "known at"),
    ("review", "brief"): Renderer("review.brief:brief_blocks", "known"),
    ("review", "json"): Renderer("review.json:render", "unread at", several=True),
    ("review", "html"): Renderer("review.blocks:as_page", "known unread digests at", several=True),
    ("review", "results"): Renderer("review.ci_results:of_sets", "unread at known", True),
    ("rule", "text"): Renderer("rules.listing:rule_blocks", "rulebook"),
    ("rule", "markdown"): Renderer("rules.listing:rule_as_markdown", "rulebook"),
    ("rules", "text"): Renderer("rules.listing:blocks"),
    ("rules", "json"): Renderer("rules.listing:as_json", "rules"),
    ("rules", "markdown"): Renderer("rules.listing:as_markdown"),
    ("rules facts", "text"): Renderer("rules.policy:facts_blocks"),
    ("rules values", "text"): Renderer("rules.policy:values_blocks", "built_in values"),
    ("rules values", "json"): Renderer("rules.policy:values_json", "built_in values"),
    ("rules check", "text"): Renderer("rules.policy:check_blocks", "of_policy rulebook"),
    ("unread", "text"): Renderer("text:render_unread", "width"),
    ("verify", "text"): Renderer("order.blocks:blocks", "at"),
    ("verify", "brief"): Renderer("order.blocks:brief_blocks", "at"),
    ("verify", "json"): Renderer("order.json:render", "unread at", several=True),
    ("verify", "html"): Renderer("order.blocks:as_page", "unread digests at", several=True),
    ("verify", "results"): Renderer("ci.model:of_orders", "unread rules at", True),
    ("results", "baseline"): Renderer("ci.baseline:render"),
    ("results", "fhir"): Renderer("ci.operation_outcome:render"),
    ("results", "sarif"): Renderer("ci.sarif:render", "here"),
    ("results", "markdown"): Renderer("ci.markdown:render", "unread"),
    ("results", "junit"): Renderer("ci.junit:render", "fail_at"),
    ("results", "line"): Renderer("ci.line:render", "unread"),
}
"""`results` make and render the CI model of several files; `unread` is a file not checked.
`brief` is a text without details, where a verb has such a text."""


def renderer_of(verb: str, form: str, *, detail: bool) -> Renderer:
    """The renderer of a format; of a text with all details only if `detail` is true."""
    is_brief = form == "text" and not detail and (verb, "brief") in RENDERERS
    return RENDERERS[verb, "brief" if is_brief else form]
