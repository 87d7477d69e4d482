"""Counts by rule over drawn orders: PYTHONPATH=tests python -m oracle [ORDERS] [FIRST SEED]."""

from __future__ import annotations

import sys
from collections import Counter

from oracle.answers import RULES, Answer
from oracle.compare import differences, smallest
from oracle.draw import draw
from oracle.judge import judge


def main(orders: int = 20_000, first: int = 0) -> None:
    counts: dict[str, Counter[str]] = {rule: Counter() for rule in RULES}
    apart: Counter[tuple[str, str]] = Counter()
    for seed in range(first, first + orders):
        document = draw(seed)
        judgement = judge(document)
        for rule, answer in judgement.answers.items():
            counts[rule][answer.name] += 1
            counts[rule]["SHOWN"] += rule in judgement.found
        for difference in differences(document):
            if difference not in apart:
                print(*difference, smallest(document, difference))
            apart[difference] += 1
    columns = [*(answer.name for answer in Answer), "SHOWN"]
    print(f"{'':40}", *(f"{column:>10}" for column in columns))
    for rule, count in counts.items():
        print(f"{rule:40}", *(f"{count[column]:10}" for column in columns))
    print(f"{orders} orders; they differ on:", dict(apart))


if __name__ == "__main__":
    main(*(int(number) for number in sys.argv[1:]))
