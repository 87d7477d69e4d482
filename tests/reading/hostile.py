"""An order that reads, and whose every text is made to become markup, script or style."""

from __future__ import annotations

import json

import core_yaml
from running import CLEAN

MARKUP = [
    "<script>window.attacked=1;alert(1)</script>",
    "</title></style></svg><img src=x onerror=window.attacked=1>",
    "<svg onload=window.attacked=1><a href='javascript:alert(1)'>x</a></svg>",
    '"><iframe src=//attack.example></iframe>',
    "'; } body { display: none } @import url(//attack.example)",
    "]]><!-- --><style>*{display:none}</style>",
    "{{ 7*7 }}{% include '/etc/passwd' %}{# x #}",
    "&lt;b&gt;&#60;script&#62;&amp;",
    "<math><mtext></p><mglyph><svg><style><img src=x onerror=window.attacked=1>",
    "url(https://attack.example/x) expression(window.attacked=1) -moz-binding:x",
]
TEXTS = ("id", "prescriber", "indication", "stop_when", "instructions")


def hostile_order() -> bytes:
    """The clean order, active, with markup in each of its texts and in some of its quantities."""
    order = core_yaml.load_file(CLEAN)
    order["status"] = "active"
    for index, path in enumerate(TEXTS):
        order[path] = MARKUP[index]
    order["notify"]["call"] = MARKUP[5]
    order["notify"]["events"] = MARKUP[6]
    order["titration"]["goal"] = MARKUP[7]
    order["irrigation"]["additive"] = {"name": MARKUP[8], "concentration": MARKUP[9]}
    order["irrigation"]["rate"] = f"60 {MARKUP[0]}"
    order["irrigation"]["fluid"] = MARKUP[2]
    order["zone"] = MARKUP[3]
    order["revision"] = 3
    order["<b onclick=x>key</b>"] = MARKUP[4]
    return json.dumps(order).encode()
