"""The people of the demo, and how to log in as each."""

from __future__ import annotations

from shopflow.commands.demo import seed
from shopflow.people import actions
from shopflow.people.models import User

FILE = "people.csv"


def load() -> dict[str, User]:
    """Add them, the lead first; by user name."""
    found: dict[str, User] = {}
    lead = None
    for line in seed.rows(FILE):
        user = actions.add_person(
            username=line["username"],
            full_name=line["name"],
            roles=line["roles"].split(),
            password=line["password"],
            by=lead,
            temporary=False,
        )
        lead = lead or user
        actions.change_units(units=line["units"], by=user)
        if line["pin"]:
            actions.change_pin(password=line["password"], pin=line["pin"], by=user)
            actions.issue_badge(user, by=lead, code=line["badge"])
        found[user.username] = user
    return found


def already_there() -> dict[str, User]:
    """Those that an interrupted start added before."""
    return {user.username: user for user in User.objects.filter(username__in=[r["username"] for r in seed.rows(FILE)])}


def password_of(user: User) -> str:
    return next(line["password"] for line in seed.rows(FILE) if line["username"] == user.username)


def log_ins() -> str:
    """A table for the one who starts the demo."""
    lines = [("user name", "password", "roles", "badge and PIN for stations")]
    for line in seed.rows(FILE):
        badge = f"{line['badge']}  {line['pin']}" if line["pin"] else ""
        lines.append((line["username"], line["password"], line["roles"].replace(" ", ", "), badge))
    widths = [max(len(row[n]) for row in lines) for n in range(4)]
    return "\n".join("  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in lines)
