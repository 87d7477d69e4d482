"""What a browser sends of a form, byte for byte: RFC 7578."""

from __future__ import annotations

from orderlint.page.sent import SentFile, read_sent


def test_a_form_with_a_file_is_read_byte_for_byte():
    data = bytes(range(256)) + b"\r\n--other\r\n\r\n--b-x"
    body = (
        b'--b-\r\nContent-Disposition: form-data; name="id"\r\n\r\na\r\nb\xc3\xa9\r\n'
        b'--b-\r\nContent-Disposition: form-data; name="upload"; filename="x.csv"\r\n'
        b"Content-Type: text/csv\r\n\r\n" + data.replace(b"--b-x", b"") + b"\r\n--b---\r\n"
    )
    kind = "multipart/form-data; boundary=b-"
    sent = read_sent(body, kind)
    assert sent.texts == {"id": "a\r\nb\u00e9"}
    assert sent.file == SentFile("x.csv", data.replace(b"--b-x", b""))
    for broken in (b"", body[:-4], body.replace(b"form-data;", b"x;"), b"x" + body, b"--b---"):
        assert read_sent(broken, kind) == ({}, None)
    assert read_sent(body, "multipart/form-data") == ({}, None)
