"""Counts by rule over drawn orders: PYTHONPATH=tests python -m oracle [ORDERS] [FIRST SEED]."""

from __future__ import annotations

import sys
from collections import Counter

from oracle.answers import RULES, Answer
from oracle.compare import differences, smallest
from oracle.draw import draw
from oracle.judge import judge


def main(orders: int = 20_000, first: int = 0) -> None:
    """Count, and stop early at Ctrl-C."""
    counts: dict[str, Counter[str]] = {rule: Counter() for rule in RULES}
    apart: Counter[tuple[str, str]] = Counter()
    done = 0
    try:
        for done in range(orders):
            count(draw(first + done), counts, apart)
    except KeyboardInterrupt:
        orders = done
    columns = [*(answer.name for answer in Answer), "SHOWN"]
    print(f"{'':40}", *(f"{column:>10}" for column in columns))
    for rule, each in counts.items():
        print(f"{rule:40}", *(f"{each[column]:10}" for column in columns))
    print(f"{orders} orders; they differ on:", dict(apart))


def count(
    document: dict[str, object],
    counts: dict[str, Counter[str]],
    apart: Counter[tuple[str, str]],
) -> None:
    """Count one order, and show the smallest order of each difference that is new."""
    judgement = judge(document)
    for rule, answer in judgement.answers.items():
        counts[rule][answer.name] += 1
        counts[rule]["SHOWN"] += rule in judgement.found
    for difference in differences(document):
        if difference not in apart:
            print(*difference, smallest(document, difference), flush=True)
        apart[difference] += 1


if __name__ == "__main__":
    main(*(int(number) for number in sys.argv[1:]))
