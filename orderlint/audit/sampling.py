"""Draws rows for a reviewer: of those that report a rule, the ones with the lowest keys.

The key of a row is made of its texts and a seed, so that the same orders are drawn in whatever
order they stand. Never a judgement.
"""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import polars as pl

from orderlint.audit import column_logic as logic
from orderlint.audit.row_reader import text_at
from orderlint.audit.tally import Drawn, Tally

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.audit.judge import JudgedRows
    from orderlint.audit.rows import Cells, OrderRows


class Sampler:
    """Draws `most` different orders a rule, by `seed`."""

    def __init__(self, most: int, seed: int) -> None:
        self.most = most
        self._key = str(seed).encode()

    def draw(
        self,
        tally: Tally,
        rows: OrderRows,
        judged: JudgedRows,
        cells: Mapping[str, Cells],
        at: tuple[int, int],
    ) -> None:
        """Draw from the rows of one part. `at` is the number of its file, and of its first row."""
        keys = self._keys(cells).gather(rows.places)
        for rule, found in judged.rules.items():
            if found.reported is False:
                continue
            where = logic.as_series(found.reported, rows.count)
            frame = pl.DataFrame({"key": keys.filter(where), "row": rows.places.filter(where)})
            lowest = frame["key"].unique().sort().head(self.most)
            drawn = (
                frame.filter(pl.col("key").is_in(lowest.implode()))
                .group_by("key")
                .agg(pl.len(), pl.col("row").min())
            )
            if not drawn.is_empty():
                tally.drawn[rule] = {
                    key: Drawn(times, at[0], at[1] + row + 1, _texts(cells, row))
                    for key, times, row in drawn.iter_rows()
                }

    def _keys(self, cells: Mapping[str, Cells]) -> pl.Series:
        """The key of each row of a part: a sum of keyed digests of its texts, of 64 bits."""
        parts = (
            self._digests(path, each.texts).gather(each.codes).fill_null(0)
            for path, each in cells.items()
        )
        # Sums of such integers begin again at 0 where they are full.
        return pl.select(pl.sum_horizontal(map(pl.lit, parts))).to_series()

    def _digests(self, path: str, texts: pl.Series) -> pl.Series:
        return pl.Series(
            [
                int.from_bytes(
                    hashlib.blake2b(
                        f"{path}\0{text}".encode(), digest_size=8, key=self._key
                    ).digest()
                )
                for text in texts.to_list()
            ],
            dtype=pl.UInt64,
        )


def _texts(cells: Mapping[str, Cells], row: int) -> dict[str, str]:
    found = ((path, text_at(each, row)) for path, each in sorted(cells.items()))
    return {path: text for path, text in found if text is not None}
