"""Attempts to get through the phone's door: before it is open, after it is shut, and beyond what it shows."""

from __future__ import annotations

import socket

import pytest

from hubsight.page import jobs, phone
from hubsight.page.door import TRIES
from hubsight.page.network import LOOPBACK

from .conftest import Visitor, wait_for

PHOTO = "0123456789abcdef"


def test_guessing_keys_is_slowed_down_at_the_door(owner, job):
    opened = owner.post(f"{job}/phone/open", {"side": "drive", "address": LOOPBACK}).json
    host, _, key = opened["link"].removeprefix("http://").partition("/#")
    guesser = Visitor(host)
    answers = [guesser.enter(f"guess {k}").status for k in range(TRIES + 1)]
    assert answers == [403] * TRIES + [429]
    assert Visitor(host).enter(key).status == 200, "who guesses locks nobody out"
    owner.post(f"{job}/phone/close")


@pytest.fixture
def door(owner, job):
    """An open door: where it is, and its key."""
    opened = owner.post(f"{job}/phone/open", {"side": "drive", "address": LOOPBACK})
    assert opened.status == 200
    host, _, key = opened.json["link"].removeprefix("http://").partition("/#")
    yield host, key
    owner.post(f"{job}/phone/close")


def is_open(host):
    address, _, port = host.partition(":")
    with socket.socket() as line:
        line.settimeout(2)
        return line.connect_ex((address, int(port))) == 0


def test_no_phone_gets_in_before_the_door_is_opened(bench):
    assert bench.stranger().get("/mine").status == 404


def test_the_laptop_shows_that_the_door_is_open_and_how_many_came_in(owner, job, door):
    host, key = door
    shown = owner.get(f"{job}/part/phone").body.decode()
    assert "The door is open" in shown
    assert "0 phones came in" in shown
    Visitor(host).enter(key)
    assert "1 phone came in" in owner.get(f"{job}/part/phone").body.decode()


def test_the_key_opens_once(door):
    host, key = door
    assert Visitor(host).enter(key).status == 200
    assert Visitor(host).enter(key).status == 403


def test_looking_at_the_address_does_not_use_up_the_key(door):
    """Link previews and scanners ask for an address before its owner does."""
    host, key = door
    assert Visitor(host).get("/").status == 200
    assert Visitor(host).get(f"/?{key}").status == 200
    assert Visitor(host).enter(key).status == 200


def test_a_new_code_voids_the_unused_one(owner, job, door):
    host, key = door
    again = owner.post(f"{job}/phone/open", {"side": "drive", "address": LOOPBACK}).json["link"]
    assert not is_open(host) or Visitor(host).enter(key).status == 403
    assert key not in again


def test_without_the_key_the_phones_page_is_empty(door):
    stranger = Visitor(door[0])
    assert stranger.get("/mine").status == 401
    assert stranger.post("/upload", b"\xff\xd8\xff").status == 401
    assert stranger.get(f"/mine/{PHOTO}").status == 401


def test_a_phone_reaches_nothing_of_the_laptops_page(door, job, bench):
    host, key = door
    phone_visitor = Visitor(host)
    phone_visitor.enter(key)
    for path in (job, f"{job}/state", f"{job}/part/figures", "/jobs", "/target/a4.pdf", "/static/job.js"):
        assert phone_visitor.get(path).status == 404, path
    for path in ("/jobs", f"{job}/fields", f"{job}/measure"):
        assert phone_visitor.post(path).status == 404, path
    assert Visitor(bench.host, phone_visitor.cookie).get(job).status == 401


def test_the_laptops_session_is_no_phones(door, owner):
    assert Visitor(door[0], owner.cookie).get("/mine").status == 401


def test_a_phone_sees_only_its_own_photos(bench, owner, job, door, small_photo):
    host, key = door
    first = Visitor(host)
    first.enter(key)
    photo = first.post("/upload", small_photo).json["photo"]
    wait_for(lambda: first.get("/mine").json["photos"][0]["state"] != "looking")
    assert first.get(f"/mine/{photo}").status == 200
    laptops = owner.post(f"{job}/side/drive/photos", small_photo).json["photo"]
    wait_for(lambda: owner.get(f"{job}/photo/{laptops}/small.jpg").status == 200)
    assert [p["id"] for p in first.get("/mine").json["photos"]] == [photo]
    assert first.get(f"/mine/{laptops}").status == 404
    for known in (photo, laptops):
        owner.post(f"{job}/photo/{known}/remove")


def test_a_phone_goes_on_to_the_other_side_without_another_code(owner, job, door, small_photo):
    host, key = door
    phone_visitor = Visitor(host)
    phone_visitor.enter(key)
    photo = phone_visitor.post("/upload/non_drive", small_photo).json["photo"]
    wait_for(lambda: phone_visitor.get("/mine?side=non_drive").json["photos"][0]["state"] != "looking")
    assert phone_visitor.get("/mine").json["photos"] == [], "it began with the drive side"
    told = phone_visitor.get("/mine?side=non_drive").json
    assert [p["id"] for p in told["photos"]] == [photo]
    assert {one["name"]: one["photos"] for one in told["sides"]}["non_drive"] == 1
    assert phone_visitor.post(f"/mine/{photo}/remove").status == 200
    assert phone_visitor.get("/mine?side=non_drive").json["photos"] == []


def test_a_new_code_throws_nobody_out(owner, job, door):
    host, key = door
    first = Visitor(host)
    first.enter(key)
    again = owner.post(f"{job}/phone/open", {"side": "drive", "address": LOOPBACK}).json["link"]
    new_host, _, new_key = again.removeprefix("http://").partition("/#")
    assert new_host == host
    assert first.get("/mine").status == 200
    assert Visitor(host).enter(new_key).status == 200


def test_a_phone_takes_out_nothing_but_its_own(owner, job, door, small_photo):
    host, key = door
    visitor = Visitor(host)
    visitor.enter(key)
    laptops = owner.post(f"{job}/side/drive/photos", small_photo).json["photo"]
    wait_for(lambda: owner.get(f"{job}/photo/{laptops}/small.jpg").status == 200)
    assert visitor.post(f"/mine/{laptops}/remove").status == 404
    assert Visitor(host).post(f"/mine/{laptops}/remove").status == 401
    assert owner.post(f"{job}/photo/{laptops}/remove").status == 200


def test_a_full_disk_is_said_on_the_phone(owner, door, small_photo, monkeypatch):
    monkeypatch.setattr(jobs, "SPARE_ROOM", 10**18)
    host, key = door
    visitor = Visitor(host)
    visitor.enter(key)
    answer = visitor.post("/upload", small_photo)
    assert answer.status == 507
    assert "almost full" in answer.json["error"]


def test_another_page_cannot_post_through_the_phone(door, small_photo):
    host, key = door
    visitor = Visitor(host)
    visitor.enter(key)
    assert visitor.post("/upload", small_photo, origin="http://evil.example").status == 403
    assert visitor.get("/mine", host="evil.example").status == 421


def test_a_phone_that_floods_is_told_to_wait(door, monkeypatch):
    monkeypatch.setattr(phone, "UPLOADS", 3)
    host, key = door
    visitor = Visitor(host)
    visitor.enter(key)
    assert [visitor.post("/upload", b"no photo").status for _ in range(4)] == [415, 415, 415, 429]


def test_the_door_closes_on_request_and_forgets_its_phones(owner, job, door):
    host, key = door
    Visitor(host).enter(key)
    owner.post(f"{job}/phone/close")
    assert not is_open(host)


def test_the_door_closes_by_itself(owner, job, monkeypatch):
    monkeypatch.setattr(phone, "IDLE_S", 0.5)
    opened = owner.post(f"{job}/phone/open", {"side": "drive", "address": LOOPBACK}).json["link"]
    host = opened.removeprefix("http://").partition("/")[0]
    assert is_open(host)
    wait_for(lambda: not is_open(host), 6)


@pytest.mark.parametrize("address", ["0.0.0.0", "8.8.8.8", "evil.example", "", None, "::"])
def test_the_door_opens_on_no_other_address(owner, job, address):
    assert owner.post(f"{job}/phone/open", {"side": "drive", "address": address}).status == 400
