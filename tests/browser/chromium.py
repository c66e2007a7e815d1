"""Headless Chromium as a person's device: its width, its colours, its scripts, its paper.

Owns: everything that speaks to the browser. Must not know: what a page should show.
"""

import base64
import json
import os
import shutil
import tempfile
from pathlib import Path

from selenium import webdriver
from selenium.webdriver.chrome.service import Service as Driver
from selenium.webdriver.support.ui import WebDriverWait

AXE = Path(os.environ["CRINGLE_BROWSER_AXE"])
# ISO 216: A4 is 210 by 297 mm; an inch is 25.4 mm.
A4_INCHES = {"paperWidth": 210 / 25.4, "paperHeight": 297 / 25.4}
SECONDS_AT_MOST = 60


class Browser(webdriver.Chrome):
    """Chromium with a fresh profile."""

    def __init__(self, scripts=True):
        options = webdriver.ChromeOptions()
        options.binary_location = shutil.which("chromium")
        options.add_argument("--headless=new")
        options.add_argument("--disable-dev-shm-usage")
        options.add_argument("--hide-scrollbars")
        options.add_argument("--force-color-profile=srgb")
        options.add_argument(f"--user-data-dir={tempfile.mkdtemp(dir=os.environ['CRINGLE_BROWSER_WORK'])}")
        if os.geteuid() == 0:
            # Chromium's sandbox does not run as root; what is looked at is our own.
            options.add_argument("--no-sandbox")
        if not scripts:
            options.add_experimental_option("prefs", {"profile.managed_default_content_settings.javascript": 2})
        options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
        super().__init__(options=options, service=Driver(shutil.which("chromedriver")))
        self.set_page_load_timeout(60)

    def wide(self, width, height=900, scale=1):
        """A window of this many CSS pixels, drawn with `scale` pixels for each."""
        size = {"width": width, "height": height, "deviceScaleFactor": scale, "mobile": False}
        self.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)

    def media(self, scheme="light", forced=False, medium=""):
        features = [
            {"name": "prefers-color-scheme", "value": scheme},
            {"name": "forced-colors", "value": "active" if forced else "none"},
        ]
        self.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": medium, "features": features})

    def wait(self, condition, message="", seconds=SECONDS_AT_MOST):
        return WebDriverWait(self, seconds, poll_frequency=0.05).until(condition, message)

    def follow(self, element):
        """Clicks what leads to another page, and waits until that is the document that is shown or being loaded."""
        before = self.document()
        element.click()
        self.wait(lambda _: self.document() != before, "no other page came")

    def document(self):
        """The name of what was loaded, another for each loading. Elements of a page that is being left cannot be asked."""
        return self.execute_cdp_cmd("Page.getFrameTree", {})["frameTree"]["frame"]["loaderId"]

    def printed(self):
        """The page as a PDF on A4, with the margins that the page itself asks for."""
        asked = dict(A4_INCHES, preferCSSPageSize=True, printBackground=False)
        return base64.b64decode(self.execute_cdp_cmd("Page.printToPDF", asked)["data"])

    def picture(self, file):
        """Keeps the whole page as a PNG."""
        asked = {"captureBeyondViewport": True, "format": "png"}
        size = self.execute_cdp_cmd("Page.getLayoutMetrics", {})["cssContentSize"]
        asked["clip"] = {"x": 0, "y": 0, "width": size["width"], "height": size["height"], "scale": 1}
        file.write_bytes(base64.b64decode(self.execute_cdp_cmd("Page.captureScreenshot", asked)["data"]))

    def events(self):
        """What the network has done since this was last asked."""
        messages = (json.loads(entry["message"])["message"] for entry in self.get_log("performance"))
        return [message for message in messages if message["method"].startswith("Network.")]

    def complaints(self):
        """What the console holds since this was last asked; whatever a content security policy refuses is there too."""
        return [entry["message"] for entry in self.get_log("browser")]

    def before_load(self, script):
        """A script that runs in every document before the page's own."""
        self.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": script})

    def axe(self, tags):
        """What axe-core finds, as short texts."""
        self.execute_script(AXE.read_text())
        found = self.execute_async_script(
            "const [tags, done] = arguments;"
            "axe.run(document, {runOnly: tags, rules: {'target-size': {enabled: true}}})"
            ".then(found => done(found), error => done({error: String(error)}));",
            tags,
        )
        if "error" in found:
            raise AssertionError(found["error"])
        if len(found["passes"]) < 10:
            raise AssertionError("axe-core has looked at almost nothing")
        return [
            f"{rule['id']}: {node['target']} {node['failureSummary']}"
            for rule in found["violations"]
            for node in rule["nodes"]
        ]
