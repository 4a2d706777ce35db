"""A walk over the site by its own links: somebody who opens whatever the pages offer, and looks at each for slips."""

import re
from collections import Counter, deque
from html.parser import HTMLParser
from urllib.parse import urljoin, urlsplit

from django.test import Client
from django.urls import Resolver404, resolve

from shopflow.people.access import may
from shopflow.people.page_access import PAGES
from shopflow.people.sessions import BADGE

OPENED = ("href", "src", "data", "hx-get")
COMPLETED = "data-strip-url"
"""Of a script's addresses the one that it puts a number into."""
SENT = ("action", "hx-post", "formaction")
NAMING = ("for", "aria-labelledby", "aria-describedby", "aria-controls", "list")
READ_OUT = ("alt", "title", "aria-label", "placeholder", "value")
LEFT_OVER = re.compile(r"\{[{%#]|[#%}]\}|%\(\w+\)[sd]|\bNone\b(?! (?:yet|so|is)\b|\.)|\bnan\b|\bNaN\b|<.+ object at")
"""What a template, a format or a value that was never filled in leaves in a text."""


def is_opened(attribute):
    """Whether an attribute holds an address that a browser or a script of ours gets, as it stands."""
    is_script_s = attribute.startswith("data-") and attribute.endswith("-url")
    return attribute in OPENED or (is_script_s and attribute != COMPLETED)


class Page(HTMLParser):
    """What an answer shows, and where it leads. What stands in a <template> is not on the page."""

    def __init__(self, source):
        super().__init__()
        self.is_whole = "<html" in source
        self.ids, self.named, self.opened, self.sent = Counter(), set(), set(), set()
        self.texts, self.title, self.unprotected = [], "", set()
        self._within, self._sending = Counter(), None
        self.feed(source)
        self.close()

    def handle_starttag(self, tag, attrs):
        values = {name: value or "" for name, value in attrs}
        self._within[tag] += 1
        if not self._within["template"]:
            self.ids.update(filter(None, [values.get("id")]))
            self.named.update(name for by in NAMING for name in values.get(by, "").split())
        self.opened.update(value for by, value in values.items() if value and is_opened(by))
        if tag == "form" and values.get("method", "get").lower() == "post":
            self._sending = values.get("action", "")
            self.unprotected.add(self._sending)
        elif tag == "form":
            self.opened.update(filter(None, [values.get("action")]))
        if self._sending is not None:
            self.sent.update(values[by] for by in SENT if by in values)
            if values.get("name") == "csrfmiddlewaretoken" and values.get("value"):
                self.unprotected.discard(self._sending)
        self.texts += [values[by] for by in READ_OUT if by in values and values.get("type") != "hidden"]

    def handle_endtag(self, tag):
        self._within[tag] -= 1
        if tag == "form":
            self._sending = None

    def handle_data(self, data):
        if self._within["title"] > 0 and not self._within["svg"] > 0:
            self.title += data.strip()
        if not (self._within["script"] > 0 or self._within["style"] > 0):
            self.texts.append(data)

    def slips(self):
        """What is wrong with the page by itself, in words."""
        yield from (f"the id {name} stands {n} times" for name, n in self.ids.items() if n > 1)
        yield from (f"the form to {where} has no token" for where in self.unprotected)
        for text in self.texts:
            if found := LEFT_OVER.search(text):
                yield f"left over: {found[0]} in {text.strip()[:80]}"
        if self.is_whole:
            yield from (f"nothing has the id {name}" for name in self.named - self.ids.keys())
            inside = {link[1:] for link in self.opened if link.startswith("#") and len(link) > 1}
            yield from (f"the link leads nowhere: #{name}" for name in inside - self.ids.keys())
            if not self.title:
                yield "no title"


EVERY_ONE = frozenset({"workflow:job", "jobs:plan", "jobs:setup", "floor:op"})
"""Pages that differ most by what they are about: all of them are opened where a share is more than one."""


class Walk:
    """Everything that one person comes to from the first page; the same address once.

    share: how many of each page with an address of its own (a job's papers) are opened, but for EVERY_ONE. Of those
    alike but for what stands behind the question mark two are opened.
    """

    def __init__(self, person, share, *, by_badge=False):
        self.person, self.share = person, share
        self.opened, self.problems = Counter(), []
        self._times, self._chosen = Counter(), set()
        self._client = Client(raise_request_exception=False)
        self._client.force_login(person)
        if by_badge:
            session = self._client.session
            session[BADGE] = person.badge_digest
            session.save()
            person.is_at_station = True
        self._waiting, self._known = deque(["/"]), {"/"}

    def go(self):
        while self._waiting:
            self._open(self._waiting.popleft())
        return self

    def _open(self, address):
        path = urlsplit(address).path
        name = self._name(address)
        if name is None or not self._is_in_share(name, path):
            return
        answer = self._client.get(address)
        body = b"".join(answer.streaming_content) if answer.streaming else answer.content
        if answer.status_code in (301, 302):
            self._note(address, answer["Location"])
        elif answer.status_code != 200:
            self.problems.append(f"{address} answers {answer.status_code}")
        elif answer["Content-Type"].startswith("text/html"):
            self._read(address, Page(body.decode()))

    def _name(self, address):
        """The address's name in the table of access; None, with a problem, where there is none."""
        try:
            return resolve(urlsplit(address).path).view_name
        except Resolver404:
            self.problems.append(f"{address} is no address of the site")
            return None

    def _is_in_share(self, name, path):
        self._times[path] += 1
        if self._times[path] == 1 and (self.opened[name] < self.share or (self.share > 1 and name in EVERY_ONE)):
            self.opened[name] += 1
            self._chosen.add(path)
        return path in self._chosen and self._times[path] <= 2

    def _read(self, address, page):
        self.problems += [f"{address}: {slip}" for slip in page.slips()]
        for link in page.opened:
            self._note(address, link)
        for target in page.sent:
            if name := self._name(urljoin(address, target)):
                self._try_form(address, target, PAGES[name])

    def _try_form(self, address, target, access):
        """Nothing is sent; but where a form is answered with itself, its address may be asked for again."""
        if not (access.send and may(self.person, access.send)):
            self.problems.append(f"{address} has a form for {target}, which refuses this person")
        if access.see:
            self._note(address, target)

    def _note(self, source, link):
        address = urljoin(source, link).split("#")[0]
        if address.startswith("/") and not address.startswith("/static/") and address not in self._known:
            self._known.add(address)
            self._waiting.append(address)
