"""Texts that a spreadsheet computes, follows or takes for a number, and such as look like them."""

from __future__ import annotations

ACTIVE = (
    *("=1+1", "+1+1", "-1+1", "@SUM(1,1)", "\t=1+1", "\r=1+1", "\n=1+1", " =1+1", "\u00a0=1+1"),
    *("\ufeff=1+1", "\u200b=1+1", "＝1+1", "＋1+1", "－1+1", "＠SUM(1,1)", "-5 mmHg", "-5"),
    *('=HYPERLINK("file:///etc/passwd";"see")', "=WEBSERVICE(A1)", "=cmd|' /C calc'!A0"),
    *("=1+1;=1+1", '="a"&"b"', "=DDE(1;2;3)", "=1+1\r\n=1+1"),
)
"""What begins as a formula does; an apostrophe must stand before it."""
INNER = ("hold; =1+1", "hold;=1+1", "a\t=1+1", "a\n=1+1", "a\r\n+1+1", "a;＝1")
"""What would begin a cell, were the file read by another separator than the comma."""
QUIET = (
    *(
        "8 mmHg",
        "",
        "a=b",
        "60 mL/h",
        "a, =b",
        "'=1+1",
        "1e3",
        "010",
        "2026-03-02",
        "_x0041_",
        "%1",
    ),
    *("https://example.org/", "a\nb", '"', ",", "TRUE", "½", "\u202e=1+1"),
)
"""What is text as it stands."""
