"""What the local page refuses before it reads anything.

Names of headers and statuses are those of RFC 9110, the Fetch standard and Fetch metadata.
"""

from __future__ import annotations

import pytest

from orderlint.page.guards import MOST_BYTES, PageRequest, refusal

PORT, KEY = 8471, "0123456789abcdef"
OWN = {"host": f"127.0.0.1:{PORT}"}
SAME = {**OWN, "origin": f"http://127.0.0.1:{PORT}", "sec-fetch-site": "same-origin"}


def refused(path=f"/{KEY}/", method="GET", **headers):
    given = {**OWN, **{name.replace("_", "-"): value for name, value in headers.items()}}
    return refusal(
        PageRequest(method, path, {n: v for n, v in given.items() if v is not None}), PORT, KEY
    )


def test_the_page_s_own_requests_are_answered():
    assert refused() is None
    assert refused(host=f"localhost:{PORT}") is None
    assert refused(method="POST", content_length="10", origin=SAME["origin"]) is None
    assert refused(f"/{KEY}/check", sec_fetch_site="same-origin") is None


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        f"evil.example:{PORT}",
        "127.0.0.1",
        "127.0.0.1:80",
        "",
        f"127.0.0.1.:{PORT}",
        None,
    ],
)
def test_a_name_bound_anew_to_this_machine_is_refused(host):
    assert refused(host=host) == 421


@pytest.mark.parametrize(
    "origin", ["null", "http://evil.example", f"https://127.0.0.1:{PORT}", "http://127.0.0.1"]
)
def test_another_origin_is_refused(origin):
    assert refused(method="POST", content_length="1", origin=origin) == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site", ""])
def test_a_request_from_another_site_is_refused(site):
    assert refused(sec_fetch_site=site) == 403


@pytest.mark.parametrize(
    "path", ["/", "", "/favicon.ico", f"/{KEY[:-1]}/", f"/{KEY}0/", f"//{KEY}/", KEY, "/\u00e9/"]
)
def test_without_the_key_there_is_nothing(path):
    assert refused(path) == 404


def test_only_a_body_of_a_length_that_an_order_has_is_read():
    assert refused(method="POST", content_length=str(MOST_BYTES)) is None
    assert refused(method="POST", content_length=str(MOST_BYTES + 1)) == 413
    assert refused(method="POST", content_length="9" * 5000) == 413
    for length in (None, "", "-1", "1e3", "٣"):
        assert refused(method="POST", content_length=length) == 411
    assert refused(method="POST", content_length="1", transfer_encoding="chunked") == 411


@pytest.mark.parametrize("method", ["PUT", "HEAD", "OPTIONS", "TRACE", "get"])
def test_no_other_method_is_answered(method):
    assert refused(method=method) == 405
