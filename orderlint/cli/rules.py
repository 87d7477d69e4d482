"""The verb `rules`: shows the rulebook or one rule, or checks a policy's own rules.

Arguments in, report out. Imports the modules behind it only when it runs.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, TypeVar

import click

from orderlint.api.renderers import RENDERERS
from orderlint.cli import options
from orderlint.cli.exit_status import BELOW, FINDINGS
from orderlint.cli.inputs import rulebook_with_examples
from orderlint.cli.outputs import terminal_width, write_stdout
from orderlint.cli.progress import watched
from orderlint.finding import Level, Refused
from orderlint.language.budget import Budget

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from orderlint.rulebook.rule import Rulebook

T = TypeVar("T")

_EPILOG = """\b
For example:
  orderlint rules
  orderlint rules treat-above-over-upper-pause
  orderlint rules --values --policy policy.yaml
  orderlint rules --check policy.yaml

\b
Exit status:
  0  the page was written; with --check, nothing was found
  1  with --check: a rule that no order can break or keep, that says nothing of its own, or with
     a cover that no order needs; or something heavier than a note about the policy itself
  2  wrong usage, or a policy that could not be read or has a mistake"""


def _ids(ctx: click.Context, _argument: click.Parameter, incomplete: str) -> list[str]:
    """The rules that a shell offers; none under a policy that is refused."""
    try:
        rules = rulebook_with_examples(ctx.params.get("policy")).rules
    except Refused:
        return []
    return [name for name in rules if name.startswith(incomplete)]


@click.command("rules", epilog=_EPILOG, short_help="The rulebook, one rule, or a policy's check.")
@click.argument("rule", required=False, metavar="[ID]", shell_complete=_ids)
@options.at
@options.policy
@options.format_option("text", "json", "markdown")
@options.file_option(
    "--check",
    "Check the rules that this site policy adds: examples, and what orders can do to them.",
    metavar="POLICY",
)
@click.option(
    "--values",
    is_flag=True,
    help="Show the values of the policy instead, or the one that ID names.",
)
@click.option(
    "--facts",
    is_flag=True,
    help="Show what conditions of rules and of order sets may say instead.",
)
@options.effort
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    rule: str | None,
    policy: str | None,
    form: str,
    check: str | None,
    at: int,
    values: bool,
    facts: bool,
    effort: int,
) -> int:
    """Show the rulebook as a table or, given the ID of a rule, that rule whole.

    A rule is shown with its condition in words, why it is asked, its source and its examples.
    """
    _refuse_what_does_not_go_together(rule, policy, form, check, values, facts)
    if check is not None:
        return _check(check, at, effort)
    page = _values if values else _facts if facts else _page
    text = page(rulebook_with_examples(policy), rule, form)
    write_stdout(text, None if form == "text" else "utf-8")
    return BELOW


def _refuse_what_does_not_go_together(  # noqa: PLR0913, PLR0917 - one parameter an option
    rule: str | None, policy: str | None, form: str, check: str | None, values: bool, facts: bool
) -> None:
    """Raise UsageError where an option is given beside one that it cannot stand beside."""
    if check is not None and (rule or policy or values or facts or form != "text"):
        raise click.UsageError("--check takes a policy and nothing else.")
    if facts and (rule or values or form != "text"):
        raise click.UsageError("--facts is shown as text, with no ID and without --values.")
    if values and form == "markdown":
        raise click.UsageError("--values is shown as text or json.")


def _values(rulebook: Rulebook, name: str | None, form: str) -> str:
    """The values of the policy, or the one of that name."""
    values = _chosen(rulebook.values, name, "local value")
    built_in = rulebook_with_examples(None)
    return _rendered("rules values", form, rulebook, built_in=built_in, values=values)


def _facts(rulebook: Rulebook, _name: str | None, form: str) -> str:
    return _rendered("rules facts", form, rulebook)


def _page(rulebook: Rulebook, rule: str | None, form: str) -> str:
    rules = _chosen(rulebook.rules, rule, "rule")
    if rule is None or form == "json":
        return _rendered("rules", form, rulebook, rules=rules)
    return _rendered("rule", form, *rules, rulebook=rulebook)


def _chosen(every: Mapping[str, T], name: str | None, what: str) -> Collection[T]:
    """All, or the one of that name. Raises UsageError where there is none."""
    from orderlint.rulebook.yaml_fields import near  # noqa: PLC0415 - cold start

    if name is None:
        return every.values()
    if name not in every:
        said = f"There is no {what} {name}{near(name, every)}."
        raise click.UsageError(said.replace("?.", "?"))
    return [every[name]]


def _rendered(what: str, form: str, found: object, **beside: object) -> str:
    is_terminal = sys.stdout is not None and sys.stdout.isatty()
    width = terminal_width(sys.stdout) if is_terminal else 80
    text: str = RENDERERS[what, form](found, {**beside, "width": width, "color": False})
    return text


def _check(file: str, at: int, effort: int) -> int:
    # The solver takes a third of a second to import; nothing else here needs it.
    rulebook = rulebook_with_examples(file)
    from orderlint.rulebook.policy_rules_check import check_own_rules, of_policy  # noqa: PLC0415 - cold start

    budget = Budget(effort)
    checked, said = check_own_rules(rulebook, watched, budget), of_policy(rulebook, at, budget)
    write_stdout(_rendered("rules check", "text", checked, of_policy=said, rulebook=rulebook))
    wrong = any(rulebook.rules[fault.rule].level is not Level.NOTE for fault in said)
    return FINDINGS if wrong or any(item.faults for item in checked) else BELOW
