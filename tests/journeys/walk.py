"""Somebody at a screen: goes from page to page, and at each looks for what no page may have."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, ConsoleMessage, Locator, Page, Response

AXE = Axe().axe_script
# The dark look differs by its colors only.
LOOKS: dict[str, dict[str, object]] = {"light": {}, "dark": {"runOnly": ["color-contrast"]}}
TELL_OF_VIOLATIONS = """
document.addEventListener("securitypolicyviolation", (event) =>
  console.error("content policy: " + event.violatedDirective + " " + event.blockedURI));
"""
TOO_WIDE = """() => {
  const edge = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= edge) return [];
  const wide = [...document.body.querySelectorAll("*")].filter((each) => each.getBoundingClientRect().right > edge + 1);
  return ["wider than the screen", ...wide.slice(0, 5).map((each) => each.outerHTML.slice(0, 120))];
}"""


def barriers_on(page: Page, rules: dict[str, object]) -> list[str]:
    """What the accessibility rules find on the page that is open; `AXE` was evaluated on it before."""
    found = page.evaluate("rules => axe.run(rules)", {"resultTypes": ["violations"], **rules})["violations"]
    return [
        f"{rule['id']}: {node['html'][:160]} {json.dumps([any_['message'] for any_ in node['any']])}"
        for rule in found
        for node in rule["nodes"]
    ]


def take_picture(page: Page, file: Path) -> None:
    """The whole page, in a window as tall as it, so that the bar at the bottom covers nothing."""
    window = page.viewport_size
    height = page.evaluate("document.documentElement.scrollHeight")
    page.set_viewport_size({**window, "height": max(height, window["height"])})
    page.screenshot(path=file)
    page.set_viewport_size(window)


class Walk:
    """One browser of one size. `look` judges the page that is open and goes on; `faults` holds all that was found.

    One that does not judge walks only, where the same pages are judged elsewhere.
    `clicks` and `keystrokes` count what a person would do: a list takes two clicks, a text one and a key a letter.
    """

    def __init__(
        self, context: BrowserContext, *, home: str, size: str, judges: bool = True, pictures: Path | None = None
    ) -> None:
        context.add_init_script(TELL_OF_VIOLATIONS)
        self.home, self.size, self.judges, self.pictures = home, size, judges, pictures
        self.page = context.new_page()
        self.page.on("console", self._hear)
        self.page.on("pageerror", lambda error: self.faults.append(f"script of {self.page.url}: {error}"))
        self.page.on("response", self._answered)
        self.faults: list[str] = []
        self.clicks = self.keystrokes = 0

    def _hear(self, message: ConsoleMessage) -> None:
        if message.type in {"error", "warning"}:
            self.faults.append(f"console of {self.page.url}: {message.text}")

    def _answered(self, response: Response) -> None:
        if response.status >= 400:
            self.faults.append(f"status {response.status}: {urlsplit(response.url).path}")

    # Going from page to page

    def open(self, path: str) -> None:
        self.page.goto(path if path.startswith("http") else self.home + path)

    def press(self, words: str, *, within: str = "main") -> None:
        """Press the button or follow the link of these words, and wait for the next page."""
        with self.page.expect_navigation():
            self.click(words, within=within)

    def unfold(self, words: str) -> None:
        self.clicks += 1
        self.page.locator("summary", has_text=words).first.click()

    def _control(self, words: str, within: str = "main") -> Locator:
        part = self.page.locator(within)
        return part.get_by_role("button", name=words).or_(part.get_by_role("link", name=words)).first

    def write(self, **answers: str | bool) -> None:
        """Fill in controls by their name: text typed, lists and radio buttons chosen by their words, boxes ticked."""
        for name, answer in answers.items():
            control = self.page.locator(f"main [name='{name}']")
            self.clicks += 1
            if answer is True:
                control.check()
            elif control.first.evaluate("each => each.tagName") == "SELECT":
                self.clicks += 1
                control.select_option(label=answer)
            elif control.first.get_attribute("type") == "radio":
                self.page.locator("main fieldset", has=control).get_by_label(answer).check()
            else:
                self.keystrokes += len(answer)
                control.fill(str(answer))

    def sign(self) -> None:
        """Draw two strokes on the pad with the mouse."""
        pad = self.page.locator("[data-signature] canvas")
        pad.scroll_into_view_if_needed()
        box = pad.bounding_box()
        for stroke in (((0.1, 0.6), (0.3, 0.2), (0.45, 0.7)), ((0.5, 0.5), (0.65, 0.3), (0.85, 0.6))):
            points = [(box["x"] + x * box["width"], box["y"] + y * box["height"]) for x, y in stroke]
            self.page.mouse.move(*points[0])
            self.page.mouse.down()
            for point in points[1:]:
                self.page.mouse.move(*point, steps=6)
            self.page.mouse.up()

    # Judging what is open

    def look(self, name: str) -> None:
        """Nothing sideways, nothing for the accessibility rules, nothing in the console; a picture if they are kept."""
        if not self.judges:
            return
        self.page.evaluate(AXE)
        for scheme, rules in LOOKS.items():
            self.page.emulate_media(color_scheme=scheme)
            found = [*self.page.evaluate(TOO_WIDE), *barriers_on(self.page, rules)]
            self.faults += [f"{name}, {scheme}: {each}" for each in found]
            if self.pictures is not None:
                take_picture(self.page, self.pictures / f"{name}-{self.size}-{scheme}.png")

    def text(self) -> str:
        return self.page.locator("main").inner_text()

    def says(self, *words: str) -> None:
        shown = " ".join(self.text().split())
        for each in words:
            assert each in shown, f"“{each}” is not on {self.page.url}: {shown[:1500]}"

    @contextmanager
    def paper(self) -> Iterator[None]:
        """What is pressed inside answers with a PDF, whether the browser opens or saves it; then back to the page."""
        before = self.page.url
        with self.page.expect_response(lambda answer: answer.headers.get("content-type") == "application/pdf") as paper:
            yield
        assert paper.value.ok
        assert int(paper.value.headers["content-length"]) > 5000
        self.page.goto(before)

    def click(self, words: str, *, within: str = "main") -> None:
        self.clicks += 1
        self._control(words, within).click()
