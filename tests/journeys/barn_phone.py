"""A phone with a folder of its own: a browser that is killed at any moment and opened again on what it kept."""

import os
import signal
import time
from contextlib import suppress
from pathlib import Path

from playwright.sync_api import BrowserContext, Error, Locator, Page, Playwright, expect

from tests.journeys.walk import AXE, TOO_WIDE, barriers_on, take_picture

SIZE = {"width": 390, "height": 844}
WAIT = 30_000
expect.set_options(timeout=WAIT)
# The page's own doors to its journal: the very modules that it loaded.
BARN = """
  const main = document.querySelector("script[src*='/js/barn/main']").src;
  const [{ barn }, store] = await Promise.all(["barn", "store"].map((name) => import(main.replace("main", name))));
"""

NAME_OF = "each => (each.labels?.[0]?.textContent ?? each.getAttribute('aria-label') ?? each.textContent).trim()"
FOCUSED = f"() => ({NAME_OF})(document.activeElement)"
IS_THERE = f"""words => [...document.querySelectorAll("a, button, summary, input, [tabindex='0']")]
  .some((each) => each.checkVisibility() && ({NAME_OF})(each).startsWith(words))"""
PUT_ON = "on => on ? (document.documentElement.dataset.look = 'outdoor') : delete document.documentElement.dataset.look"
SMALL = """() => [...document.querySelectorAll("main :is(.button, .tap, .place, summary, select, input[type=text])")]
  .filter((each) => each.checkVisibility() && each.getBoundingClientRect().height < 55.5)
  .map((each) => each.outerHTML.slice(0, 120))"""


class BarnPhone:
    """`confirmed` holds the ids of which this phone said that they are kept."""

    def __init__(self, playwright: Playwright, folder: Path, chromium: str, home: str) -> None:
        self._playwright, self.folder, self._chromium, self.home = playwright, folder, chromium, home
        self.confirmed: list[str] = []
        self.taps = 0
        self.start()

    # Power

    def start(self) -> None:
        self.context: BrowserContext = self._playwright.chromium.launch_persistent_context(
            str(self.folder),
            executable_path=self._chromium,
            args=["--no-sandbox"],
            viewport=SIZE,
            locale="en-US",
            timezone_id="America/Denver",
            reduced_motion="reduce",
        )
        self.context.set_default_timeout(WAIT)
        self.context.expose_binding("keptHere", lambda _, entry: self.confirmed.append(entry))
        self.page: Page = self.context.pages[0] if self.context.pages else self.context.new_page()

    def kill(self) -> None:
        """As a dead battery does it: no process of this browser gets to say goodbye."""
        os.killpg(os.getpgid(self._process()), signal.SIGKILL)
        with suppress(Error):
            self.context.close()

    def _process(self) -> int:
        wanted = f"--user-data-dir={self.folder}".encode()
        for line in Path("/proc").glob("[0-9]*/cmdline"):
            with suppress(OSError):
                if wanted in line.read_bytes().split(b"\0") and self._leads(int(line.parent.name)):
                    return int(line.parent.name)
        raise AssertionError("This phone is off already.")

    @staticmethod
    def _leads(process: int) -> bool:
        return os.getpgid(process) == process and process != os.getpgid(0)

    def close(self) -> None:
        with suppress(Error):
            self.context.close()

    # Signal

    def lose_signal(self) -> None:
        self.context.set_offline(True)

    def find_signal(self) -> None:
        self.context.set_offline(False)

    # The pages

    def sign_in(self, username: str, password: str) -> None:
        self.page.goto(f"{self.home}/sign-in/?next=/barn/")
        self.page.locator("[name=username]").fill(username)
        self.page.locator("[name=password]").fill(password)
        self.page.get_by_role("button", name="Sign in", exact=True).click()
        self.page.wait_for_url("**/barn/")

    def take_along(self) -> None:
        """Until the day is held and the shell is kept, so that the phone may go where there is no signal."""
        self.open()
        expect(self.page.locator("header")).to_contain_text("Taken along")
        self.page.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
        self.page.wait_for_function("() => navigator.serviceWorker.controller !== null")

    def open(self, place: str = "") -> None:
        self.page.goto(f"{self.home}/barn/#/{place}")
        expect(self.page.locator("main h1").first).to_be_visible()

    def tap(self, words: str) -> None:
        """Press the button, follow the link, tick the box or open the part of these words."""
        self.taps += 1
        self._control(words).click()

    def _control(self, words: str) -> Locator:
        main = self.page.locator("main")
        named = [main.get_by_role(role, name=words) for role in ("button", "link", "checkbox")]  # type: ignore[arg-type]
        return named[0].or_(named[1]).or_(named[2]).or_(main.locator("summary", has_text=words)).first

    def write(self, **answers: str) -> None:
        for name, answer in answers.items():
            self.page.locator(f"#{name.replace('_', '-')}").fill(answer)

    def says(self, *sentences: str) -> None:
        for sentence in sentences:
            expect(self.page.locator("body")).to_contain_text(sentence)

    def press(self, words: str, key: str = "Enter") -> None:
        """By the keyboard alone: on to the control of these words, then the key."""
        self.page.wait_for_function(IS_THERE, arg=words)
        for _ in range(120):
            self.page.keyboard.press("Tab")
            if self.page.evaluate(FOCUSED).startswith(words):
                return self.page.keyboard.press(key)
        raise AssertionError(f"The keyboard does not come to “{words}”.")

    def look(self, name: str, pictures: Path | None) -> list[str]:
        """What is wrong with the page that is open: in light, dark and bright sun, and with text of twice the size."""
        self.page.evaluate(AXE)
        found = []
        for look in ("light", "dark", "outdoor"):
            self.page.emulate_media(color_scheme="dark" if look == "dark" else "light")
            self.page.evaluate(PUT_ON, look == "outdoor")
            rules: dict[str, object] = {} if look == "light" else {"runOnly": ["color-contrast"]}
            found += [
                f"{name}, {look}: {each}" for each in (*self.page.evaluate(TOO_WIDE), *barriers_on(self.page, rules))
            ]
            if pictures is not None:
                take_picture(self.page, pictures / f"barn-{name}-{look}.png")
        self.page.evaluate(PUT_ON, False)
        self.page.emulate_media(color_scheme="light")
        found += [f"{name}: smaller than a gloved thumb: {each}" for each in self.page.evaluate(SMALL)]
        self.page.evaluate("document.documentElement.style.fontSize = '225%'")
        found += [f"{name}, text at 200 %: {each}" for each in self.page.evaluate(TOO_WIDE)]
        self.page.evaluate("document.documentElement.style.fontSize = ''")
        return found

    # Entries

    def note(self, kind: str, visit: int, values: dict[str, object], *, local: bool = False) -> bool:
        """What a tap does, without the tap: true when the page says that it is kept. `local` is not for the office."""
        return bool(
            self.page.evaluate(
                f"async ([kind, visit, values, local]) => {{ {BARN} return barn.note(kind, visit, values, local); }}",
                [kind, visit, values, local],
            )
        )

    def note_until_killed(self, visit: int, seconds: float) -> None:
        """Notes without a pause, tells each that was kept, and dies after so many seconds."""
        self.page.evaluate(
            f"""async (visit) => {{ {BARN}
              const told = new Set(store.entries.keys());
              const loop = async () => {{
                for (let n = 0; ; n++) {{
                  if (!(await barn.note("how", visit, {{ note: `Line ${{n}}` }}))) continue;
                  for (const id of store.entries.keys()) if (!told.has(id)) void window.keptHere(id);
                  for (const id of store.entries.keys()) told.add(id);
                  await new Promise((done) => setTimeout(done, Math.random() * 20));
                }}
              }};
              void loop();
            }}""",
            visit,
        )
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            self.page.wait_for_timeout(5)
        self.kill()

    def kept(self) -> list[str]:
        """The ids of all entries on this phone that are for the office."""
        return self.page.evaluate(
            f"""async () => {{ {BARN}
              return [...store.entries.values()].filter((each) => !each.local).map((each) => each.id);
            }}"""
        )

    def send(self) -> None:
        """With a signal again: the page hears of it and sends."""
        self.find_signal()
        self.page.evaluate("dispatchEvent(new Event('online'))")

    def wait_until_sent(self) -> None:
        expect(self.page.locator("a.state")).to_contain_text("All sent")
