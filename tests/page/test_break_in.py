"""Attempts to break in: each tries what an attacker would, on a bench that runs."""

from __future__ import annotations

import socket
import struct
import zlib
from pathlib import Path

import pytest

from hubsight.page import jobs
from hubsight.page.door import TRIES, Failures, Lock
from hubsight.page.network import own_addresses

from .conftest import Visitor, wait_for

PHOTO = "0123456789abcdef"
GETS = (
    "",
    "/state",
    "/part/photos",
    "/part/wall",
    f"/photo/{PHOTO}/drawing",
    f"/photo/{PHOTO}/full.jpg",
    f"/cut/cut-{PHOTO}.jpg",
    "/thumb.jpg",
    "/now?parts=look",
    "/report.html",
    "/order.html",
    "/card.html",
)
POSTS = (
    "/fields",
    "/measure",
    "/report",
    "/card",
    "/phone/open",
    "/phone/close",
    "/side/drive/photos",
    "/side/drive/place",
    "/undo",
    "/redo",
    "/ready",
    "/side/drive/answer",
    "/side/drive/clear",
    f"/photo/{PHOTO}/unusable",
    f"/photo/{PHOTO}/remove",
)


def content(shelf: Path):
    return {p: p.read_bytes() for p in sorted(shelf.rglob("*")) if p.is_file()}


# ---- who may come in


@pytest.mark.parametrize("path", GETS)
def test_a_stranger_sees_nothing_of_a_job(bench, job, path):
    assert bench.stranger().get(job + path).status == 401


@pytest.mark.parametrize("path", POSTS)
def test_a_stranger_changes_nothing(bench, job, path):
    before = content(bench.shelf)
    assert bench.stranger().post(job + path, {"side": "drive"}).status == 401
    assert bench.stranger().post("/jobs", {"title": "mine", "length": "100"}).status == 401
    assert content(bench.shelf) == before


def test_a_stranger_compares_nothing(bench, job):
    known = job.rpartition("/")[2]
    assert bench.stranger().get(f"/compare?job={known}&job={known}").status == 401


def test_a_stranger_sees_no_job_on_the_first_page(bench):
    page = bench.stranger().get("/")
    assert page.status == 200
    assert b"first" not in page.body
    assert bench.key.encode() not in page.body


@pytest.mark.parametrize("cookie", ["hubsight=1", "hubsight-00000000=", "hubsight-00000000=x; a=b"])
def test_a_made_up_cookie_is_no_session(bench, job, cookie):
    assert Visitor(bench.host, cookie).get(job).status == 401


def test_the_session_cookie_is_out_of_reach_of_scripts_and_other_sites(bench):
    flags = bench.stranger().enter(bench.key).cookie.lower()
    assert "httponly" in flags
    assert "samesite=strict" in flags


def test_the_session_of_one_bench_opens_no_other(bench, owner):
    name, _, value = owner.cookie.partition("=")
    assert Visitor(bench.host, f"{name}={value[:-1]}x").get("/").body.count(b"first") == 0


def test_only_the_loopback_address_is_listened_on(bench):
    port = int(bench.host.rpartition(":")[2])
    for address in own_addresses():
        with socket.socket() as line:
            line.settimeout(2)
            assert line.connect_ex((address, port)) != 0, address


HALF_A_PAIR = chr(92) + "ud800"
"""As JSON writes half of a surrogate pair, which is no text."""


def test_who_guesses_keys_is_told_to_wait_and_locks_nobody_out(bench):
    guesser = bench.stranger()
    answers = [guesser.enter(f"guess {k}").status for k in range(TRIES + 1)]
    assert answers[-1] == 429
    assert set(answers) == {403, 429}
    assert bench.stranger().enter(bench.key).status == 200


@pytest.mark.parametrize("sent", [f'{{"key": "{HALF_A_PAIR}"}}', '{"key": 5}', "{", '["key"]'])
def test_whatever_is_sent_as_a_key_is_counted_as_a_wrong_one(bench, sent):
    answers = [bench.stranger().post("/enter", sent.encode()).status for _ in range(TRIES + 1)]
    assert answers[-1] == 429
    assert set(answers) <= {403, 429}


def test_wrong_keys_are_counted_for_a_while():
    now = [0.0]
    lock = Lock("c", lasting="right", failures=Failures(lambda: now[0]))
    for _ in range(TRIES):
        assert not lock.failures.must_wait
        assert lock.enter("wrong") is None
    assert lock.failures.must_wait
    now[0] = 61.0
    assert not lock.failures.must_wait
    assert lock.enter("right")


# ---- from where


@pytest.mark.parametrize("name", ["evil.example", "localhost.evil.example", "", None, "127.0.0.1"])
def test_another_host_name_is_refused(bench, owner, name):
    """A name that an attacker makes point to the loopback address (DNS rebinding)."""
    port = bench.host.rpartition(":")[2]
    host = f"{name}:{port}" if name and name != "127.0.0.1" else name
    assert owner.get("/", host=host).status in (400, 421)
    assert owner.post("/jobs", {}, host=host).status in (400, 421)


@pytest.mark.parametrize(
    "origin", [None, "null", "http://evil.example", "http://127.0.0.1:1", "https://{host}"]
)
def test_a_post_from_another_page_is_refused(bench, owner, job, origin):
    before = content(bench.shelf)
    origin = origin and origin.format(host=bench.host)
    assert owner.post(f"{job}/fields", {"rim.erd": "596"}, origin=origin).status == 403
    assert content(bench.shelf) == before


def test_a_post_that_the_browser_calls_cross_site_is_refused(owner, job):
    assert owner.post(f"{job}/fields", {"rim.erd": "596"}, sec_fetch_site="cross-site").status == 403


@pytest.mark.parametrize("method", ["GET", "HEAD", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_nothing_but_a_post_changes_anything(bench, owner, job, method):
    before = content(bench.shelf)
    for path in ("/jobs", *(job + path for path in POSTS)):
        assert owner.ask(method, path).status in (404, 405), path
    assert content(bench.shelf) == before


@pytest.mark.parametrize("path", ["/", "/static/bench.css", "/nowhere", "/job/x", "/static/%2e%2e/app.py"])
def test_every_answer_carries_the_strict_policy(owner, path):
    headers = owner.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["cache-control"] == "no-store"
    assert "server" not in headers


# ---- what is shown


def test_a_job_named_like_a_script_is_shown_as_text(bench, owner):
    """Such a folder can come from somebody else."""
    evil = bench.shelf / "<img src=x onerror=alert(1)>"
    evil.mkdir()
    (evil / "job.toml").write_bytes((bench.shelf / "first" / "job.toml").read_bytes())
    page = owner.get("/").body.decode()
    assert "<img src=x" not in page
    assert "&lt;img src=x" in page
    (evil / "job.toml").unlink()
    evil.rmdir()


def test_what_is_typed_comes_back_as_text(owner, job):
    answer = owner.post(f"{job}/fields", {"rim.erd": "<script>alert(1)</script>"})
    assert answer.status == 422
    assert answer.headers["content-type"] == "application/json"


# ---- names are never paths


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e%2fapp.py",
        "/static//etc/passwd",
        "/job/..",
        "/job/%2e%2e%2f%2e%2e",
        "/job/first",
        "/target/..%2f..%2fa4.pdf",
        "/target/a0.pdf",
    ],
)
def test_no_path_leads_out(owner, path):
    assert owner.get(path).status in (307, 400, 404, 405)


@pytest.mark.parametrize("name", ["../../etc/passwd", "..%2f..%2fjob.toml", "drive-01.jpg", "%00", "." * 300])
def test_a_photo_is_only_found_by_its_identifier(owner, job, name):
    assert owner.get(f"{job}/photo/{name}/full.jpg").status == 404
    assert owner.get(f"{job}/cut/{name}.jpg").status == 404


@pytest.mark.parametrize("title", ["../outside", "/etc/job", "..", "a/../../b", "C:\\x", "\x00", "con\n"])
def test_a_new_job_stays_on_the_shelf(bench, owner, title):
    outside = {p.name for p in bench.shelf.parent.iterdir()}
    answer = owner.post("/jobs", {"title": title, "length": "100.1"})
    assert answer.status in (200, 422)
    assert {p.name for p in bench.shelf.parent.iterdir()} == outside


def test_a_link_out_of_the_job_is_not_served(bench, owner, job, tmp_path, small_photo):
    secret = tmp_path / "secret.jpg"
    secret.write_bytes(small_photo)
    link = bench.shelf / "first" / "drive" / "drive-77.jpg"
    link.parent.mkdir(exist_ok=True)
    link.symlink_to(secret)
    try:
        assert b"drive-77" not in owner.get(f"{job}/part/photos").body
    finally:
        link.unlink()


# ---- uploads


def left_in(bench):
    return sorted(p.name for p in (bench.shelf / "first" / "drive").glob("*"))


@pytest.mark.parametrize(
    "sent",
    [
        b"",
        b"\xff\xd8",
        b"<html><script>alert(1)</script></html>",
        b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
        b"PK\x03\x04" + bytes(100),
        b"GIF89a" + bytes(100),
        b"#!/bin/sh\nrm -rf /\n",
    ],
)
def test_what_is_no_photo_is_not_taken(bench, owner, job, sent):
    before = left_in(bench)
    assert owner.post(f"{job}/side/drive/photos", sent).status == 415
    assert left_in(bench) == before


def test_a_large_upload_is_cut_off(bench, owner, job, monkeypatch, small_photo):
    monkeypatch.setattr(jobs, "LARGEST_UPLOAD", 50_000)
    before = left_in(bench)
    answer = owner.post(f"{job}/side/drive/photos", small_photo + bytes(60_000))
    assert answer.status == 415
    assert left_in(bench) == before


def test_too_many_photos_are_refused(bench, owner, job, monkeypatch, small_photo):
    monkeypatch.setattr(jobs, "MOST_PHOTOS", len([n for n in left_in(bench) if not n.startswith(".")]))
    assert owner.post(f"{job}/side/drive/photos", small_photo).status == 415


def test_an_upload_that_breaks_off_leaves_nothing(bench, owner, job, small_photo):
    before = left_in(bench)
    head = (
        f"POST {job}/side/drive/photos HTTP/1.1\r\nHost: {bench.host}\r\nOrigin: http://{bench.host}\r\n"
        f"Cookie: {owner.cookie}\r\nContent-Length: 5000000\r\n\r\n"
    )
    host, _, port = bench.host.partition(":")
    with socket.create_connection((host, int(port))) as line:
        line.sendall(head.encode() + small_photo)
    wait_for(lambda: left_in(bench) == before)


def _chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png_bomb(side):
    """A small file of a very large picture."""
    squeeze = zlib.compressobj(9)
    row = bytes(1 + 3 * side)
    data = b"".join(squeeze.compress(row) for _ in range(side)) + squeeze.flush()
    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", head) + _chunk(b"IDAT", data) + _chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        (b"\xff\xd8\xff\xe0" + bytes(500), "no photo"),
        (png_bomb(13_000), "169 megapixels; more than 64 megapixels are not read"),
        (b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)), ""),
    ],
    ids=["damaged", "bomb", "says it is larger than any photo"],
)
def test_a_picture_made_to_do_harm_is_told_and_the_page_lives_on(bench, owner, job, sent, words):
    photo = owner.post(f"{job}/side/drive/photos", sent).json["photo"]

    def trouble():
        page = owner.get(f"{job}/part/photos").body.decode()
        return page if 'class="bad"' in page and "Being looked at" not in page else None

    assert words in wait_for(trouble, 40)
    assert owner.post(f"{job}/photo/{photo}/remove").status == 200
    assert owner.get("/").status == 200


# ---- what is posted


@pytest.mark.parametrize(
    "sent",
    [b"", b"[]", b"{", b"x" * 200_000, b'{"a": ' + b"[" * 50_000, b'{"photo": 1e999}'],
    ids=["nothing", "a list", "half", "long", "deep", "infinite"],
)
def test_a_body_that_is_no_small_object_is_refused(owner, job, sent):
    assert owner.post(f"{job}/side/drive/place", sent).status == 400


@pytest.mark.parametrize(
    ("path", "sent"),
    [
        ("/jobs", {"title": "half", "length": "\ud800"}),
        ("/jobs", {"title": "\ud800", "length": "100"}),
        ("{job}/fields", {"rim.erd": "\ud800"}),
        ("{job}/fields", {"\ud800": "596"}),
        ("{job}/photo/0/remove", {"\udfff": 1}),
    ],
)
def test_half_a_surrogate_pair_is_no_text(bench, owner, job, path, sent):
    before = content(bench.shelf)
    assert owner.post(path.format(job=job), sent).status in (400, 404)
    assert content(bench.shelf) == before


@pytest.mark.parametrize(("path", "status"), [("/nowhere", 404), ("/job/0123", 404), ("/jobs", 405)])
def test_an_error_is_a_page_where_a_page_was_asked_for(owner, path, status):
    shown = owner.get(path, accept="text/html,application/xhtml+xml,*/*;q=0.8")
    assert shown.status == status
    assert shown.headers["content-type"].startswith("text/html")
    assert b"<h1>" in shown.body
    assert b'{"error"' not in shown.body
    told = owner.get(path, accept="*/*")
    assert told.status == status
    assert set(told.json) == {"error"}


def test_a_stranger_who_opens_a_job_is_shown_a_page(bench, job):
    shown = bench.stranger().get(job, accept="text/html")
    assert shown.status == 401
    assert b"Open the page again" in shown.body
    assert b"<h1>" in shown.body


@pytest.mark.parametrize(
    "name", ["schema_version", "sides.drive.photos", "camera.profile", "a.b", "__class__"]
)
def test_only_the_pages_own_fields_can_be_set(bench, owner, job, name):
    before = content(bench.shelf)
    assert owner.post(f"{job}/fields", {name: "../../x"}).status == 422
    assert content(bench.shelf) == before


def test_a_stranger_cannot_fill_the_memory_at_the_door(bench):
    assert bench.stranger().post("/enter", b'{"key": "' + b"x" * 200_000).status in (403, 429)
    assert bench.stranger().post("/enter", b"[" * 60_000).status in (403, 429)
