"""Follow every link of the app as one person, and send every form with wrong, absurd and hostile input.

Works on whatever the database holds: each answer to a form is rolled back.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from urllib.parse import urljoin, urlsplit

from django.db import transaction
from django.test import Client
from django.urls import Resolver404, resolve
from lxml import html

A_PATTERN = 2  # pages looked at for each address pattern
LONG = "x" * 100_000
ABSURD = ("", "<script>alert(1)</script>", "ليلى 🐴 \x00", "-1", "9999-12-31", "130 %", LONG)
SIGNS_OUT = {"backoffice:sign-out"}


@dataclass(frozen=True, slots=True)
class FoundForm:
    """A form of a page: where it is sent, and its fields with what they hold."""

    page: str
    action: str
    fields: tuple[tuple[str, str], ...]
    typed: frozenset[str]


@dataclass(slots=True)
class Crawl:
    """What was found: pages by address, forms by where they go, and everything that went wrong, in words."""

    client: Client
    pages: dict[str, int] = field(default_factory=dict)
    forms: dict[str, FoundForm] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)

    def follow(self, start: str = "/") -> "Crawl":
        waiting, looked = [start], Counter[str]()
        while waiting:
            path = waiting.pop(0)
            name = pattern_of(path)
            if path in self.pages or not name or looked[name] >= A_PATTERN:
                continue
            looked[name] += 1
            waiting += self._look(path)
        return self

    def _look(self, path: str) -> list[str]:
        answer = self.client.get(path)
        self.pages[path] = answer.status_code
        if answer.status_code in (301, 302):
            return [urlsplit(answer["Location"]).path]
        if answer.status_code not in (200, 409):
            self.faults.append(f"GET {path}: {answer.status_code}")
        if not answer["Content-Type"].startswith("text/html"):
            answer.getvalue()  # a file is read to its end, which closes it
            return []
        page = html.fromstring(answer.content)
        for form in forms_of(page, path):
            self.forms.setdefault(f"{pattern_of(form.action)} {sorted(form.typed)}", form)
        links = (urljoin(path, link) for link in page.xpath("//a[@href and not(@download)]/@href"))
        return [link.partition("#")[0] for link in links if link.startswith("/")]

    def send_absurd(self) -> "Crawl":
        for form in self.forms.values():
            if pattern_of(form.action) in SIGNS_OUT:
                continue
            for text in ABSURD:
                self._send(form, {name: text for name in form.typed}, repr(text[:20]))
        return self

    def _send(self, form: FoundForm, typed: dict[str, str], what: str) -> None:
        with rolled_back():
            try:
                answer = self.client.post(form.action, fields_with(form, typed))
            except Exception as error:  # noqa: BLE001 - whatever it is, it would be a 500
                self.faults.append(
                    f"POST {form.action} from {form.page}, {what}: {type(error).__name__}: {error}"[:300]
                )
                return
        if answer.streaming:
            b"".join(answer.streaming_content)  # the last of it closes what it comes from
        if answer.status_code not in (200, 302, 404, 409, 422, 429):
            self.faults.append(f"POST {form.action} from {form.page}, {what}: {answer.status_code}")
        elif answer.status_code == 422 and answer["Content-Type"].startswith("text/html"):
            self._check_refusal(form, typed, what, answer.content.decode())

    def _check_refusal(self, form: FoundForm, typed: dict[str, str], what: str, page: str) -> None:
        if "<script>alert(1)</script>" in page:
            self.faults.append(f"POST {form.action}, {what}: the script comes back alive")
        if "invalid-feedback" not in page and "errorlist" not in page and 'role="alert"' not in page:
            self.faults.append(f"POST {form.action} from {form.page}, {what}: refused without a sentence")


def fields_with(form: FoundForm, typed: dict[str, str]) -> dict[str, list[str]]:
    sent: dict[str, list[str]] = {}
    for name, value in form.fields:
        sent.setdefault(name, []).append(value)
    return {**sent, **{name: [value] for name, value in typed.items()}}


def pattern_of(path: str) -> str:
    """The name of the address pattern; empty for what is not a page of ours."""
    try:
        return resolve(urlsplit(path).path).view_name
    except Resolver404:
        return ""


def forms_of(page: html.HtmlElement, path: str) -> Iterator[FoundForm]:
    for form in page.xpath("//form[translate(@method, 'POST', 'post') = 'post']"):
        fields, typed = [], set()
        for element in form.xpath(".//input[@name] | .//select[@name] | .//textarea[@name]"):
            name, kind = element.get("name"), element.get("type", element.tag)
            if name == "csrfmiddlewaretoken" or kind in ("submit", "button", "file"):
                continue
            if kind in ("checkbox", "radio") and element.get("checked") is None:
                typed.add(name)
                continue
            fields.append((name, value_of(element)))
            if kind != "hidden":
                typed.add(name)
        yield FoundForm(path, urljoin(path, form.get("action") or path), tuple(fields), frozenset(typed))


def value_of(element: html.HtmlElement) -> str:
    if element.tag == "select":
        chosen = element.xpath(".//option[@selected]/@value") or element.xpath(".//option/@value")
        return chosen[0] if chosen else ""
    if element.tag == "textarea":
        return element.text or ""
    return element.get("value") or ("on" if element.get("type") == "checkbox" else "")


class rolled_back:
    """A block whose writes are undone."""

    def __enter__(self) -> None:
        self.block = transaction.atomic()
        self.block.__enter__()

    def __exit__(self, *_: object) -> None:
        transaction.set_rollback(True)
        self.block.__exit__(None, None, None)
