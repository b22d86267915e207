"""A browser without a screen, for tests that look at pages: Chromium, driven by selenium."""

import base64
import shutil
from contextlib import contextmanager
from tempfile import TemporaryDirectory

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.print_page_options import PrintOptions

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
DRIVER = shutil.which("chromedriver")

needs_browser = pytest.mark.skipif(
    not (CHROMIUM and DRIVER), reason="no Chromium here (Debian: apt-get install chromium chromium-driver)"
)

QUIETLY = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
)

PAPERS_CM = {"a4": (21.0, 29.7), "letter": (21.59, 27.94)}


@contextmanager
def open_browser(*more):
    """Start a browser with a profile of its own, and with more arguments."""
    with TemporaryDirectory(prefix="browser-", ignore_cleanup_errors=True) as profile:
        options = Options()
        options.binary_location = CHROMIUM
        for argument in (*QUIETLY, *more, f"--user-data-dir={profile}"):
            options.add_argument(argument)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        driver = webdriver.Chrome(options=options, service=Service(DRIVER))
        try:
            yield driver
        finally:
            driver.quit()


def set_width(driver, width, height=900):
    """Give the page a width, phones' included: a window cannot be made as narrow."""
    driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False},
    )


def sideways_overflow(driver):
    """How many pixels the page is wider than the window."""
    return driver.execute_script(
        "const page = document.documentElement; return page.scrollWidth - page.clientWidth"
    )


def print_to_pdf(driver, paper):
    """Print the page on a paper as the browser does; returns the PDF."""
    options = PrintOptions()
    options.page_width, options.page_height = PAPERS_CM[paper]
    options.background = False
    return base64.b64decode(driver.print_page(options))
