"""Selects the rulebook of a verb: with the built-in policy, or with a site policy.

The one place that knows the rulebook's loaders. Never a rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

from orderlint.api.sources import Content, Source, content_of
from orderlint.rulebook.load import load

if TYPE_CHECKING:
    from orderlint.rulebook.rule import Rulebook

Purpose: TypeAlias = Literal["order", "order-set", "read-back", "change"]
"""What is judged; rules that cannot concern it are not loaded."""


@dataclass(frozen=True, slots=True)
class SitePolicy:
    """A site policy that was read and found without mistake.

    `content` is what was read; `rulebook` has the built-in rules as the policy has them, and its
    own.
    """

    content: Content
    rulebook: Rulebook

    @property
    def title(self) -> str:
        """What the policy calls itself."""
        return self.rulebook.policy

    def __repr__(self) -> str:
        return f"SitePolicy({self.content.name!r}, title={self.title!r})"


Policy: TypeAlias = SitePolicy | Source | None
"""A policy that was loaded, or the source of one; None is the built-in policy."""


def load_policy(source: Source, *, name: str | None = None) -> SitePolicy:
    """Read a site policy once, to be given as `policy` to any number of checks.

    `source` is as for orderlint.verify. Raises Refused, with line and column, at the first mistake
    in it.

    >>> from pathlib import Path
    >>> policy = load_policy(Path("examples/policy-adult-unit.yaml"))
    >>> policy.title
    'adult neurocritical care unit, invented for these examples'
    """
    content = content_of(source, name)
    return SitePolicy(content, load("order", content.read("site-policy")))


BUILT_IN = "built-in"
"""What stands for the digest of the policy where there is no file of one."""


def policy_digest(policy: SitePolicy | None) -> str:
    """The SHA-256 of a policy, as it was read; BUILT_IN for the built-in one."""
    return BUILT_IN if policy is None else policy.content.digest


def rulebook_for(purpose: Purpose, policy: Policy = None) -> Rulebook:
    """The rulebook to judge by, without its examples. Raises Refused where a policy does not read.

    That of a site policy has every rule, whatever the purpose.
    """
    if policy is None:
        return load(purpose)
    return (policy if isinstance(policy, SitePolicy) else load_policy(policy)).rulebook
