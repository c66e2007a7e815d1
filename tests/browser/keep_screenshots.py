"""Keeps a picture of every page at three widths, light and dark, with forced colours and zoomed, and the sheet as a PDF.

Argument: the folder.
"""

import itertools
import sys
from pathlib import Path

import scene

WIDTHS = (320, 768, 1280)


def main():
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    browser = scene.browser()
    for name, address in scene.every_page():
        plain = name.replace(", ", "-").replace(" ", "-")
        browser.get(address)
        for width, scheme in itertools.product(WIDTHS, ("light", "dark")):
            browser.wide(width)
            browser.media(scheme)
            browser.picture(folder / f"{plain}-{width}-{scheme}.png")
        browser.wide(640, scale=2)
        browser.media()
        browser.picture(folder / f"{plain}-zoomed.png")
        browser.media(forced=True)
        browser.picture(folder / f"{plain}-forced-colours.png")
        browser.media()
        if name == "sheet":
            (folder / f"{plain}.pdf").write_bytes(browser.printed())
    print(f"{len(list(folder.iterdir()))} files in {folder}")


if __name__ == "__main__":
    main()
