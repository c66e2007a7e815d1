"""A person's way through the pages, by clicking, with scripts and without."""

import scene
from selenium.webdriver.common.by import By

FOUR_WORDS = {"Go", "Go, light", "Marginal", "No-go", "No call"}


class Walk(scene.InBrowser):
    def walk(self, browser):
        browser.get(self.service.page("/"))
        notice = browser.find_element(By.CSS_SELECTOR, "article.notice")
        call = notice.find_element(By.CSS_SELECTOR, ".word").text
        self.assertIn(call, FOUR_WORDS)
        browser.follow(notice.find_element(By.CSS_SELECTOR, "a[href*='/sessions/']"))
        self.assertIn("/sessions/", browser.current_url)
        self.assertEqual(browser.find_element(By.TAG_NAME, "h1").text.split("\n")[0], call)
        self.assertIn("skipper", browser.find_element(By.TAG_NAME, "footer").text)
        charts = browser.find_elements(By.CSS_SELECTOR, "svg[role=img]")
        self.assertTrue(any(chart.is_displayed() for chart in charts), "a chart is seen")
        browser.follow(browser.find_element(By.CSS_SELECTOR, "a[href*='/openings']"))
        self.assertIn("/openings", browser.current_url)
        self.assertIn("skipper", browser.find_element(By.TAG_NAME, "footer").text)

    def test_board_to_session_to_openings_by_clicking(self):
        self.walk(self.browser)

    def test_the_same_without_scripts(self):
        without = scene.browser(scripts=False)
        without.get("data:text/html,<title>none</title><script>document.title='ran'</script>")
        self.assertEqual(without.title, "none", "scripts are switched off")
        self.walk(without)
