"""What the pages ask of the network and leave behind."""

import scene

# The figure asked for: the board, all in.
BOARD_OCTETS_AT_MOST = 60 * 1024


class Traffic(scene.InBrowser):
    def look(self, address):
        """Opens a page in a browser that keeps nothing and returns what it asked for and how many octets came."""
        self.browser.execute_cdp_cmd("Network.clearBrowserCache", {})
        self.browser.events(), self.browser.complaints()
        self.browser.get(address)
        self.browser.wait(lambda page: page.execute_script("return document.readyState") == "complete")
        events = self.browser.events()
        asked = [e["params"]["request"]["url"] for e in events if e["method"] == "Network.requestWillBeSent"]
        octets = sum(e["params"]["encodedDataLength"] for e in events if e["method"] == "Network.loadingFinished")
        return asked, octets

    def test_every_page_asks_its_own_origin_only_and_the_console_is_empty(self):
        for name, address in scene.every_page():
            with self.subTest(page=name):
                asked, _ = self.look(address)
                origin = "/".join(address.split("/")[:3])
                self.assertGreaterEqual(len(asked), 2, "the page and its style")
                elsewhere = [url for url in asked if not url.startswith((origin + "/", "data:"))]
                self.assertEqual(elsewhere, [])
                # A page that says what was asked wrongly has a status of its own, which the console notes.
                # The first of an origin makes a browser ask for an icon by itself.
                its_own = tuple(f"{of} - Failed to load resource" for of in (self.browser.current_url, f"{origin}/favicon.ico"))
                self.assertEqual([said for said in self.browser.complaints() if not said.startswith(its_own)], [])

    def test_no_page_leaves_a_cookie_or_a_note(self):
        self.on_each_page(self.assert_nothing_left)

    def assert_nothing_left(self):
        self.assertEqual(self.browser.get_cookies(), [])
        self.assertEqual(self.browser.execute_script("return localStorage.length + sessionStorage.length"), 0)

    def test_the_board_is_small(self):
        asked, octets = self.look(self.service.page("/"))
        print(f"\nthe board: {octets} octets compressed, all in, by {len(asked)} requests")
        self.assertGreater(octets, 1000)
        self.assertLess(octets, BOARD_OCTETS_AT_MOST)
