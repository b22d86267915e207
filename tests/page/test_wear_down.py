"""Attempts to wear the page down, or to reach beyond the job: slow, many at once, reused, and by links."""

from __future__ import annotations

import shutil
import socket
import struct
import threading
import time

import pytest

from hubsight.job.file.edit import new_job
from hubsight.page import door, jobs, server
from hubsight.page.jobs import identifier
from hubsight.page.network import LOOPBACK

from .conftest import Visitor


def line_to(host):
    address, _, port = host.partition(":")
    line = socket.create_connection((address, int(port)))
    line.settimeout(10)
    return line


def post_head(visitor, path, length):
    return (
        f"POST {path} HTTP/1.1\r\nHost: {visitor.host}\r\nOrigin: http://{visitor.host}\r\n"
        f"Cookie: {visitor.cookie}\r\nContent-Length: {length}\r\n\r\n"
    ).encode()


def photos_in(bench):
    return sorted(p.name for p in (bench.shelf / "first" / "drive").glob("*"))


# ---- slow


def test_connections_that_say_nothing_are_closed(bench, monkeypatch):
    """As many as are answered at once, held open for nothing, must not lock the owner out."""
    monkeypatch.setattr(server, "HEAD_S", 0.5)
    lines = [line_to(bench.host) for _ in range(server.MOST_AT_ONCE + 5)]
    try:
        for line in lines[:20]:
            line.sendall(b"GET / HTTP/1.1\r\nHost: half a he")
        end = time.monotonic() + 10
        while (status := bench.stranger().get("/").status) != 200 and time.monotonic() < end:
            time.sleep(0.1)
        assert status == 200
        assert lines[0].recv(100) == b"", "the other side hung up"
    finally:
        for line in lines:
            line.close()


def test_a_body_that_never_comes_is_not_waited_for(bench, owner, job, monkeypatch):
    monkeypatch.setattr(door, "BODY_S", 0.3)
    with line_to(bench.host) as line:
        line.sendall(post_head(owner, f"{job}/fields", 500) + b'{"rim.erd": ')
        assert b" 400 " in line.recv(1000)


def test_an_upload_that_stalls_is_given_up(bench, owner, job, monkeypatch, small_photo):
    monkeypatch.setattr(jobs, "STALL_S", 0.3)
    before = photos_in(bench)
    with line_to(bench.host) as line:
        line.sendall(post_head(owner, f"{job}/side/drive/photos", 500_000) + small_photo[:200])
        assert b" 415 " in line.recv(1000)
    assert photos_in(bench) == before


# ---- many at once


def test_uploads_side_by_side_do_not_pass_the_limit(bench, owner, job, monkeypatch, small_photo):
    """Each is begun when there is room for one more; only one gets it."""
    monkeypatch.setattr(jobs, "MOST_PHOTOS", len(photos_in(bench)) + 1)
    address, _, port = bench.host.partition(":")
    lines = [socket.create_connection((address, int(port))) for _ in range(5)]
    head = post_head(owner, f"{job}/side/drive/photos", len(small_photo))
    for line in lines:
        line.sendall(head + small_photo[:300])
    time.sleep(0.3)  # all of them are being received
    answers = []
    for line in lines:
        line.sendall(small_photo[300:])
        line.settimeout(10)
        answers.append(line.recv(1000).split()[1])
        line.close()
    assert sorted(answers) == [b"200", *[b"415"] * 4]
    assert len([n for n in photos_in(bench) if n.startswith("drive-")]) == 1
    photo = next(n for n in photos_in(bench) if n.startswith("drive-"))
    assert owner.post(f"{job}/photo/{identifier(f'drive/{photo}')}/remove").status == 200


def test_uploads_side_by_side_get_names_of_their_own(bench, owner, job, small_photo):
    out = []

    def send(number):
        out.append(owner.post(f"{job}/side/non_drive/photos", small_photo + bytes([number])).json["photo"])

    threads = [threading.Thread(target=send, args=(k,)) for k in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(set(out)) == 8
    assert len({p.read_bytes() for p in (bench.shelf / "first" / "non_drive").glob("*.jpg")}) == 8
    for photo in out:
        assert owner.post(f"{job}/photo/{photo}/remove").status == 200


# ---- reused, and of others


def test_a_phone_of_an_earlier_door_does_not_get_into_the_next(owner, job):
    def opened():
        link = owner.post(f"{job}/phone/open", {"side": "drive", "address": LOOPBACK}).json["link"]
        return link.removeprefix("http://").partition("/#")[::2]

    host, key = opened()
    phone = Visitor(host)
    assert phone.enter(key).status == 200
    owner.post(f"{job}/phone/close")
    host, again = opened()
    try:
        assert Visitor(host, phone.cookie).get("/mine").status == 401
        assert Visitor(host).enter(key).status == 403
        assert Visitor(host).enter(again).status == 200
    finally:
        owner.post(f"{job}/phone/close")


def test_a_photo_is_not_found_through_another_job(bench, owner, job, small_photo):
    new_job(bench.shelf / "second", [100.0])
    other = f"/job/{identifier('second')}"
    photo = owner.post(f"{job}/side/drive/photos", small_photo).json["photo"]
    for path in ("drawing", "full.jpg", "small.jpg"):
        assert owner.get(f"{other}/photo/{photo}/{path}").status == 404
    for path in ("remove", "unusable"):
        assert owner.post(f"{other}/photo/{photo}/{path}").status == 404
    mark = {"what": "end", "points": [[1, 1]], "scale": 1}
    assert owner.post(f"{other}/side/drive/place", {"photo": photo, "marks": [mark]}).status == 404
    # nor through the other side of its own
    assert owner.post(f"{job}/side/non_drive/place", {"photo": photo, "marks": [mark]}).status == 404
    assert owner.post(f"{job}/side/non_drive/clear", {"photo": photo}).status == 404
    assert owner.post(f"{job}/photo/{photo}/remove").status == 200


def test_two_hosts_in_one_request_are_refused(bench, owner):
    with line_to(bench.host) as line:
        hosts = f"Host: {bench.host}\r\nHost: evil.example"
        line.sendall(f"GET / HTTP/1.1\r\n{hosts}\r\nCookie: {owner.cookie}\r\n\r\n".encode())
        assert line.recv(1000).split()[1] in (b"400", b"421")


# ---- two tabs, and a job that goes


@pytest.mark.parametrize(
    ("part", "field", "typed"),
    [
        ("sheet", "target.bar_x", "119.27"),
        ("gauges", "gauges.a.diameter", "1.8"),
        ("plan", "rim.erd", "596.5"),
        ("spokes", "nipple.length", "14"),
    ],
)
def test_a_second_tab_shows_what_the_first_one_stated(bench, job, part, field, typed):
    first, second = bench.owner(), bench.owner()
    before = second.get(f"{job}/state").json["version"]
    assert first.post(f"{job}/fields", {field: typed}).status == 200
    assert second.get(f"{job}/state").json["version"] > before
    shown = second.get(f"{job}/part/{part}").body.decode()
    assert f'data-field="{field}" value="{typed}"' in shown
    assert f'data-part="{part}"' in second.get(job).body.decode(), "it is drawn again with every version"


def test_a_deleted_job_is_not_called_a_closed_bench(bench, owner):
    folder = bench.shelf / "goes"
    new_job(folder, [100.0])
    job = f"/job/{identifier('goes')}"
    assert owner.get(f"{job}/state").status == 200
    shutil.rmtree(folder)
    gone = owner.get(f"{job}/state")
    assert gone.status == 404
    assert "renamed, moved or deleted" in gone.json["error"]


# ---- links in a job folder that came from somebody else


@pytest.fixture
def linked(bench, tmp_path):
    """A job whose folders for photos lead out of it."""
    folder, outside = bench.shelf / "linked", tmp_path / "outside"
    new_job(folder, [100.0])
    outside.mkdir()
    (outside / "kept.jpg").write_bytes(b"\xff\xd8\xff kept")
    (folder / "drive").rmdir()
    (folder / "drive").symlink_to(outside)
    (folder / "removed").symlink_to(outside)
    yield f"/job/{identifier('linked')}", folder, outside
    for link in ("drive", "removed"):
        (folder / link).unlink()


def test_nothing_is_shown_or_stored_through_a_folder_that_leads_out(linked, owner, small_photo):
    job, _, outside = linked
    assert b"kept" not in owner.get(f"{job}/part/photos").body
    assert owner.post(f"{job}/side/drive/photos", small_photo).status == 415
    photo = owner.post(f"{job}/side/non_drive/photos", small_photo).json["photo"]
    assert owner.post(f"{job}/photo/{photo}/remove").status == 422
    assert [p.name for p in outside.iterdir()] == ["kept.jpg"]


def test_files_of_a_job_that_lead_out_are_not_read(bench, owner, tmp_path):
    folder, secret = bench.shelf / "files-linked", tmp_path / "secret"
    new_job(folder, [100.0])
    secret.write_text('{"secret": "kept"}')
    for name in ("corrections.json", "record.json"):
        (folder / name).symlink_to(secret)
    job = f"/job/{identifier('files-linked')}"
    for path in ("", "/part/photos", "/part/look", "/report.html", "/state"):
        assert b"kept" not in owner.get(job + path).body
    assert secret.read_text() == '{"secret": "kept"}'


# ---- pictures


def tiff_that_says_it_is_large():
    """A TIFF of 400 bytes that states 60 000 x 60 000 pixels."""
    entries = [
        (256, 4, 60_000),
        (257, 4, 60_000),
        (258, 3, 8),
        (259, 3, 1),
        (262, 3, 1),
        (273, 4, 8),
        (278, 4, 60_000),
    ]
    table = b"".join(struct.pack("<HHII", tag, kind, 1, value) for tag, kind, value in entries)
    return (
        b"II*\x00" + struct.pack("<I", 300) + bytes(292) + struct.pack("<H", len(entries)) + table + bytes(4)
    )


def jpeg_that_says_it_is_large(small_photo):
    """The picture with 65 500 x 65 500 in its head."""
    at = small_photo.index(b"\xff\xc0") + 5
    return small_photo[:at] + struct.pack(">HH", 65_500, 65_500) + small_photo[at + 4 :]


@pytest.mark.parametrize("kind", ["tiff", "jpeg"])
def test_a_small_file_of_a_huge_picture_is_told(bench, owner, job, small_photo, kind):
    sent = tiff_that_says_it_is_large() if kind == "tiff" else jpeg_that_says_it_is_large(small_photo)
    photo = owner.post(f"{job}/side/drive/photos", sent).json["photo"]
    end = time.monotonic() + 40
    while b'class="bad"' not in (page := owner.get(f"{job}/part/photos").body) and time.monotonic() < end:
        time.sleep(0.1)
    assert b'class="bad"' in page
    assert owner.post(f"{job}/photo/{photo}/remove").status == 200
