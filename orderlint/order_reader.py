"""Reads a document into an order: every leaf absent, unreadable or known, with its place.

Never judges a leaf: leaf_reader.py does that.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

from orderlint.fields import FieldTable, field_table
from orderlint.leaf_reader import DRAIN_HEIGHT, height_in_cm, read_leaf, unreadable
from orderlint.order import Leaf, Order, State
from orderlint.reading.node import Scalar
from orderlint.schema_check import check_shape, is_empty, known_nodes

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.reading import Document


def read_order(document: Document, table: FieldTable | None = None) -> Order:
    """Read the order in `document`, leaf by leaf. Never raises, whatever is written in it.

    `table` is the field table of another kind of document that has an order's leaves.
    """
    table = table or field_table()
    nodes, fits = known_nodes(document.root, table)
    faults = [] if fits else list(check_shape(document.root, table))
    misshapen = {path for fault in faults for path in fault.spoils}
    leaves = dict(_absent_leaves(table.schema))
    places = {"": document.root.place}
    for path, node in nodes:
        places[path] = node.place
        if path not in leaves or not isinstance(node, Scalar) or is_empty(node):
            continue
        judged = read_leaf(table.fields[path], node)
        if path == DRAIN_HEIGHT and table is field_table():
            judged = height_in_cm(table.fields[path], node, judged)
        leaves[path] = unreadable(path, node) if path in misshapen else judged.leaf
        if judged.fault and path not in misshapen:
            faults.append(judged.fault._replace(spoils=table.sections.get(path, (path,))))
    for spoilt in faults:
        words = leaves[spoilt.path].text if spoilt.path in leaves else ""
        for path in (path for path in spoilt.spoils if not leaves[path].given):
            # What was meant for it stands there under another form.
            is_text = table.fields[path].kind == "text"
            leaves[path] = Leaf(path, State.UNREADABLE, text=words if is_text else "")
    faults.sort(key=lambda fault: (fault.place, fault.rule))
    return Order(document.file, leaves, tuple(faults), places)


@functools.cache
def _absent_leaves(schema: str) -> Mapping[str, Leaf]:
    """Every leaf of a document of this schema in which nothing is written."""
    return {path: Leaf(path) for path in field_table(schema).fields}
