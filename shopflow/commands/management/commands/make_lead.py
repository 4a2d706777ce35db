"""Make the first lead of a new shop: the way in before anybody can log in."""

from __future__ import annotations

import getpass
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from shopflow.people import actions, queries
from shopflow.people.models import Role


class Command(BaseCommand):
    help = "Make the first lead of a shop without people. The password is asked for, or read from standard input."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username", help="what they type to log in")
        parser.add_argument("--name", default="", help="as it stands under what they sign; the user name if left out")

    def handle(self, *args: Any, **options: Any) -> None:
        if not queries.nobody_yet():
            raise CommandError("there are people in this shop already: a lead adds more on the page People")
        try:
            actions.add_person(
                username=options["username"],
                full_name=options["name"] or options["username"],
                roles=[Role.LEAD],
                password=read_password(),
                by=None,
                temporary=False,
            )
        except ValidationError as refusal:
            raise CommandError(" ".join(refusal.messages)) from refusal
        self.stdout.write(f"{options['username']} is a lead now and can log in.")


def read_password() -> str:
    """From a person without showing it, and typed twice; from a pipe as its first line."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\n")
    password = getpass.getpass("Password: ")
    if getpass.getpass("The same again: ") != password:
        raise CommandError("the two passwords differ; start again")
    return password
