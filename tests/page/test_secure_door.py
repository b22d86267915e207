"""The phone's page, encrypted by a certificate made on the spot, and its live preview."""

import datetime
import hashlib
import io
import json
import re
import ssl
import urllib.request
from http.client import HTTPSConnection

import pytest
from cryptography import x509
from PIL import Image

from hubsight.page.certificate import make_certificate
from hubsight.page.network import LOOPBACK
from hubsight.page.preview import PREVIEW_PIXELS, preview
from hubsight.photo import load_photo
from hubsight.target.find import find_target, grey
from hubsight.target.geometry import target_geometry

from .person import PHOTOS


@pytest.fixture(scope="module")
def small():
    """A photo of the sample, as a phone's preview sends it."""
    out = io.BytesIO()
    with Image.open(PHOTOS[0]) as picture:
        picture.resize((960, 720)).save(out, "JPEG", quality=75)
    return out.getvalue()


@pytest.fixture
def secure(owner, job):
    """The encrypted door of the first job."""
    opened = owner.post(f"{job}/phone/open", {"side": "drive", "address": LOOPBACK, "secure": True})
    assert opened.status == 200, opened.body
    yield opened.json
    owner.post(f"{job}/phone/close")


class Phone:
    """Talks to the encrypted door, and trusts the one certificate that it was given."""

    def __init__(self, link):
        self.host, _, self.key = link.removeprefix("https://").partition("/#")
        self.address, _, port = self.host.partition(":")
        self.pem = ssl.get_server_certificate((self.address, int(port)))
        self.trust = ssl.create_default_context(cadata=self.pem)
        self.cookie = ""

    def ask(self, method, path, body=b"", scheme="https"):
        connection = HTTPSConnection(self.host, timeout=20, context=self.trust)
        headers = {"Origin": f"{scheme}://{self.host}", "Cookie": self.cookie}
        connection.request(method, path, body, headers)
        answer = connection.getresponse()
        said = answer.read()
        if answer.getheader("set-cookie"):
            self.set_cookie = answer.getheader("set-cookie")
            self.cookie = self.set_cookie.partition(";")[0]
        connection.close()
        return answer.status, said

    def enter(self):
        return self.ask("POST", "/enter", json.dumps({"key": self.key}).encode())[0]


def test_a_certificate_is_for_this_address_alone_and_for_days():
    """What browsers ask of a certificate (RFC 6125: an address is matched by the alternative name)."""
    read = x509.load_pem_x509_certificate(make_certificate("192.0.2.7").certificate)
    names = read.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert [str(a) for a in names.get_values_for_type(x509.IPAddress)] == ["192.0.2.7"]
    assert not read.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    lasts = read.not_valid_after_utc - read.not_valid_before_utc
    assert lasts <= datetime.timedelta(days=3)
    assert (
        read.serial_number
        != x509.load_pem_x509_certificate(make_certificate("192.0.2.7").certificate).serial_number
    )


def test_the_fingerprint_shown_is_that_of_the_certificate_served(secure):
    phone = Phone(secure["link"])
    digest = hashlib.sha256(ssl.PEM_cert_to_DER_cert(phone.pem)).hexdigest().upper()
    assert secure["fingerprint"].replace(" ", "") == digest
    assert phone.enter() == 200
    status, page = phone.ask("GET", "/")
    assert status == 200
    assert secure["fingerprint"] in page.decode()
    assert b"overheard" not in page


def test_the_encrypted_door_takes_nothing_from_elsewhere(secure, small):
    phone = Phone(secure["link"])
    assert phone.ask("POST", "/preview", small)[0] == 401
    assert phone.enter() == 200
    assert "Secure" in phone.set_cookie
    assert phone.ask("POST", "/preview", small, scheme="http")[0] == 403
    with pytest.raises(OSError):  # noqa: PT011 - plain HTTP is not understood there
        urllib.request.urlopen(f"http://{phone.host}/", timeout=5)
    with pytest.raises(ssl.SSLCertVerificationError):
        ssl.create_default_context().wrap_socket(
            __import__("socket").create_connection((phone.address, int(phone.host.rpartition(":")[2]))),
            server_hostname=phone.address,
        )


def test_plain_http_stays_the_default(owner, job):
    opened = owner.post(f"{job}/phone/open", {"side": "drive", "address": LOOPBACK}).json
    assert opened["link"].startswith("http://")
    assert opened["fingerprint"] == ""
    owner.post(f"{job}/phone/close")


def test_the_preview_says_how_much_of_the_sheet_is_seen(secure, small):
    """The marks are those that the whole photo shows, within a pixel of the small one."""
    phone = Phone(secure["link"])
    phone.enter()
    status, said = phone.ask("POST", "/preview", small)
    assert status == 200
    seen = json.loads(said)
    whole = find_target(grey(load_photo(PHOTOS[0]).pixels), target_geometry("a4"))
    shrink = 960 / load_photo(PHOTOS[0]).width
    assert seen["of"] == 70
    assert len(seen["marks"]) >= 60
    assert re.fullmatch(r"(Sheet seen|The whole sheet is seen): \d+ of 70 marks\.", seen["sentence"])
    far = [
        min(abs(x - sx) + abs(y - sy) for sx, sy in (whole.pixels + 0.5) * shrink - 0.5)
        for x, y in seen["marks"]
    ]
    assert max(far) < 1.5


@pytest.mark.parametrize("data", [b"", b"no picture", b"\xff\xd8\xff" + b"0" * 50])
def test_what_is_no_preview_is_told(data):
    assert "could not be read" in preview(data, "a4").sentence


def test_a_preview_that_is_too_large_is_not_decoded(secure):
    out = io.BytesIO()
    Image.new("RGB", (2000, PREVIEW_PIXELS // 2000 + 1)).save(out, "JPEG")
    assert preview(out.getvalue(), "a4").sentence == "The preview is too large."
    phone = Phone(secure["link"])
    phone.enter()
    assert phone.ask("POST", "/preview", b"0" * 1_600_000)[0] == 413


def test_a_picture_without_a_sheet_shows_no_marks(small_photo):
    seen = preview(small_photo, "a4")
    assert (seen.marks, seen.sentence) == ((), "No sheet seen yet.")
