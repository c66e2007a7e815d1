"""What all tests share: one demo and one browser, started when first asked for and stopped at the end."""

import atexit
import contextlib
import functools
import unittest

import chromium
import pages
import service

OPENED = contextlib.ExitStack()
atexit.register(OPENED.close)


@functools.cache
def demo():
    return OPENED.enter_context(service.demo())


@functools.cache
def with_mail():
    return OPENED.enter_context(service.with_mail())


def every_page():
    """Every page's name and address."""
    for name, path in pages.PAGES.items():
        yield name, demo().page(path)
    for name, path in pages.WITH_MAIL.items():
        yield name, with_mail().page(path)


@functools.cache
def browser(scripts=True):
    started = chromium.Browser(scripts)
    OPENED.callback(started.quit)
    return started


class InBrowser(unittest.TestCase):
    """A test with the shared browser, set to a light screen of 1280 px before each."""

    def setUp(self):
        self.service = demo()
        self.browser = browser()
        self.browser.wide(1280)
        self.browser.media()

    def open(self, path):
        self.browser.get(self.service.page(path))

    def on_each_page(self, look):
        """Opens every page in turn and looks at it, each as a subtest."""
        for name, address in every_page():
            with self.subTest(page=name):
                self.browser.get(address)
                look()
