"""By which settings two broken rules are about the same thing.

Never whether one hides the other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import CHECKED_AT, field_table
from orderlint.language.tree import Names, atoms

if TYPE_CHECKING:
    from orderlint.language.tree import Tree


def subjects_of(paths: tuple[str, ...], condition: Tree | None = None) -> frozenset[str]:
    """The paths used to decide whether two findings are about the same setting.

    Choices, and texts in which the condition looks for a name, only count if there is nothing
    else: most conditions read one as context.
    """
    fields = field_table().fields
    found = atoms(condition) if condition is not None else ()
    named = {atom.path for atom in found if isinstance(atom, Names)}
    measured = [
        p
        for p in paths
        if p == CHECKED_AT or (p in fields and fields[p].kind != "choice" and p not in named)
    ]
    return frozenset(measured or paths)
